#pragma once

#include <immintrin.h>

#include "models/numeric/lane.hpp"

// Sixteen lanes of single precision in one AVX-512 register (F, DQ, VL). Meaning of the operations: lane.hpp.
// Include it first, and only where the compiler may use these instructions. The inline namespace gives
// everything made of this pack a symbol of its own.
namespace driftglow::numeric {
inline namespace avx512 {

struct Pack {
  __m512 v;
  Pack() = default;
  explicit Pack(__m512 x) : v(x) {}
  explicit Pack(double x) : v(_mm512_set1_ps(static_cast<float>(x))) {}
};
struct PackMask {
  __mmask16 m;
};
struct PackIndex {
  __m512i v;
};

inline Pack operator+(const Pack& x, const Pack& y) {
  return Pack(_mm512_add_ps(x.v, y.v));
}
inline Pack operator-(const Pack& x, const Pack& y) {
  return Pack(_mm512_sub_ps(x.v, y.v));
}
inline Pack operator*(const Pack& x, const Pack& y) {
  return Pack(_mm512_mul_ps(x.v, y.v));
}
inline Pack operator/(const Pack& x, const Pack& y) {
  return Pack(_mm512_div_ps(x.v, y.v));
}
inline Pack operator-(const Pack& x) {
  return Pack(_mm512_xor_ps(x.v, _mm512_set1_ps(-0.0f)));
}
inline PackMask operator<(const Pack& x, const Pack& y) {
  return {_mm512_cmp_ps_mask(x.v, y.v, _CMP_LT_OQ)};
}
inline PackMask operator>(const Pack& x, const Pack& y) {
  return y < x;
}
inline PackMask operator<=(const Pack& x, const Pack& y) {
  return {_mm512_cmp_ps_mask(x.v, y.v, _CMP_LE_OQ)};
}
inline PackMask operator==(const Pack& x, const Pack& y) {
  return {_mm512_cmp_ps_mask(x.v, y.v, _CMP_EQ_OQ)};
}
inline Pack select(const PackMask& m, const Pack& x, const Pack& y) {
  return Pack(_mm512_mask_blend_ps(m.m, y.v, x.v));
}
inline bool any(const PackMask& m) {
  return m.m != 0;
}
inline std::uint32_t bits(const PackMask& m) {
  return m.m;
}
inline Pack multiply_add(const Pack& a, const Pack& b, const Pack& c) {
  return Pack(_mm512_fmadd_ps(a.v, b.v, c.v));
}
inline Pack minimum(const Pack& x, const Pack& y) {
  return Pack(_mm512_min_ps(x.v, y.v));
}
inline Pack maximum(const Pack& x, const Pack& y) {
  return Pack(_mm512_max_ps(x.v, y.v));
}
inline Pack square_root(const Pack& x) {
  return Pack(_mm512_sqrt_ps(x.v));
}
inline Pack absolute(const Pack& x) {
  return Pack(_mm512_andnot_ps(_mm512_set1_ps(-0.0f), x.v));
}
inline Pack round_nearest(const Pack& x) {
  return Pack(_mm512_roundscale_ps(x.v, _MM_FROUND_TO_NEAREST_INT | _MM_FROUND_NO_EXC));
}
inline Pack scale_exponent(const Pack& x, const Pack& k) {
  const __m512i biased = _mm512_add_epi32(_mm512_cvtps_epi32(k.v), _mm512_set1_epi32(127));
  return Pack(_mm512_mul_ps(x.v, _mm512_castsi512_ps(_mm512_slli_epi32(biased, 23))));
}
inline Pack split_exponent(const Pack& x, Pack& mantissa) {
  const __m512i raw = _mm512_castps_si512(x.v);
  mantissa.v = _mm512_castsi512_ps(
      _mm512_or_si512(_mm512_and_si512(raw, _mm512_set1_epi32(0x007fffff)), _mm512_set1_epi32(0x3f800000)));
  return Pack(_mm512_cvtepi32_ps(_mm512_sub_epi32(_mm512_srli_epi32(raw, 23), _mm512_set1_epi32(127))));
}
inline PackIndex truncate(const Pack& x) {
  return {_mm512_cvttps_epi32(x.v)};
}
inline Pack to_real(const PackIndex& i) {
  return Pack(_mm512_cvtepi32_ps(i.v));
}
inline PackIndex operator*(const PackIndex& i, int n) {
  return {_mm512_mullo_epi32(i.v, _mm512_set1_epi32(n))};
}
inline PackIndex operator+(const PackIndex& i, int n) {
  return {_mm512_add_epi32(i.v, _mm512_set1_epi32(n))};
}
inline PackIndex operator+(const PackIndex& i, const PackIndex& j) {
  return {_mm512_add_epi32(i.v, j.v)};
}

}  // namespace avx512

template <>
struct Lane<Pack> {
  using Mask = PackMask;
  using Index = PackIndex;
  struct Bits {
    __m512i v;
  };
  using Real = float;
  static constexpr int width = 16;
  static Pack load(const float* from) { return Pack(_mm512_load_ps(from)); }
  static PackIndex number() {
    return {_mm512_setr_epi32(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)};
  }
  static Bits draw(std::uint64_t* state, const std::uint64_t* increment) {
    const __m512i multiplier = _mm512_set1_epi64(static_cast<long long>(pcg32_multiplier));
    const auto step = [&](int half) {
      const __m512i old = _mm512_load_si512(state + 8 * half);
      _mm512_store_si512(state + 8 * half, _mm512_add_epi64(_mm512_mullo_epi64(old, multiplier),
                                                            _mm512_load_si512(increment + 8 * half)));
      return old;
    };
    const __m512i even = step(0), odd = step(1);
    const auto scrambled = [](__m512i old) { return _mm512_xor_si512(_mm512_srli_epi64(old, 18), old); };
    constexpr __mmask16 high_halves = 0xaaaa;
    const __m512i word = _mm512_mask_blend_epi32(high_halves, _mm512_srli_epi64(scrambled(even), 27),
                                                 _mm512_slli_epi64(scrambled(odd), 5));
    const __m512i turn =
        _mm512_mask_blend_epi32(high_halves, _mm512_srli_epi64(even, 59), _mm512_srli_epi64(odd, 27));
    return {_mm512_rorv_epi32(word, turn)};
  }
};

inline namespace avx512 {

inline void store(float* to, const Pack& x) {
  _mm512_store_ps(to, x.v);
}

// Transposes each quarter of four registers: a quarter of result j holds element j of that quarter of a, b,
// c, d.
inline void transpose_quarters(__m512 a, __m512 b, __m512 c, __m512 d, __m512 (&out)[4]) {
  const __m512d ab_low = _mm512_castps_pd(_mm512_unpacklo_ps(a, b));
  const __m512d ab_high = _mm512_castps_pd(_mm512_unpackhi_ps(a, b));
  const __m512d cd_low = _mm512_castps_pd(_mm512_unpacklo_ps(c, d));
  const __m512d cd_high = _mm512_castps_pd(_mm512_unpackhi_ps(c, d));
  out[0] = _mm512_castpd_ps(_mm512_unpacklo_pd(ab_low, cd_low));
  out[1] = _mm512_castpd_ps(_mm512_unpackhi_pd(ab_low, cd_low));
  out[2] = _mm512_castpd_ps(_mm512_unpacklo_pd(ab_high, cd_high));
  out[3] = _mm512_castpd_ps(_mm512_unpackhi_pd(ab_high, cd_high));
}

template <int count>
void load_row(const float* table, const PackIndex& i, Pack (&out)[count]) {
  static_assert(count % 4 == 0);
  alignas(64) std::int32_t at[16];
  _mm512_store_si512(at, i.v);
  unrolled<count / 8>([&](auto chunk) {
    // A register takes eight values of two lanes four apart; after the transposition its quarters hold, for
    // four lanes each, values j, j + 4, j and j + 4, which are put together with those of the other lanes.
    const auto part = [&](int lane) {
      const float* from = table + 8 * chunk;
      return _mm512_castpd_ps(
          _mm512_insertf64x4(_mm512_castps_pd(_mm512_castps256_ps512(_mm256_loadu_ps(from + at[lane]))),
                             _mm256_castps_pd(_mm256_loadu_ps(from + at[lane + 4])), 1));
    };
    __m512 low[4], high[4];
    transpose_quarters(part(0), part(1), part(2), part(3), low);
    transpose_quarters(part(8), part(9), part(10), part(11), high);
    unrolled<4>([&](auto j) {
      out[8 * chunk + j].v = _mm512_shuffle_f32x4(low[j], high[j], 0x88);
      out[8 * chunk + j + 4].v = _mm512_shuffle_f32x4(low[j], high[j], 0xdd);
    });
  });
  if constexpr (count % 8 != 0) {
    // Register k takes four values of lanes k, k + 4, k + 8 and k + 12.
    const auto part = [&](int k) {
      const float* from = table + count - 4;
      __m512 r = _mm512_castps128_ps512(_mm_loadu_ps(from + at[k]));
      r = _mm512_insertf32x4(r, _mm_loadu_ps(from + at[k + 4]), 1);
      r = _mm512_insertf32x4(r, _mm_loadu_ps(from + at[k + 8]), 2);
      return _mm512_insertf32x4(r, _mm_loadu_ps(from + at[k + 12]), 3);
    };
    __m512 four[4];
    transpose_quarters(part(0), part(1), part(2), part(3), four);
    unrolled<4>([&](auto j) { out[count - 4 + j].v = four[j]; });
  }
}
inline Pack fixed_value(const Pack& a) {
  return Pack(_mm512_cvtepi32_ps(_mm512_castps_si512(a.v)));
}
inline Pack fixed_difference(const Pack& a, const Pack& b) {
  return Pack(_mm512_cvtepi32_ps(_mm512_sub_epi32(_mm512_castps_si512(a.v), _mm512_castps_si512(b.v))));
}
inline void load_two(const float* table, const PackIndex& i, Pack& first, Pack& second) {
  const auto pairs = [&](__m256i at) {
    return _mm512_castpd_ps(_mm512_i32gather_pd(at, reinterpret_cast<const double*>(table), 4));
  };
  const __m512 low = pairs(_mm512_castsi512_si256(i.v)), high = pairs(_mm512_extracti64x4_epi64(i.v, 1));
  const __m512i even = _mm512_setr_epi32(0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30);
  first.v = _mm512_permutex2var_ps(low, even, high);
  second.v = _mm512_permutex2var_ps(low, _mm512_add_epi32(even, _mm512_set1_epi32(1)), high);
}

inline Pack unit_interval(const Lane<Pack>::Bits& drawn) {
  const __m512i in_one_to_two = _mm512_or_si512(_mm512_srli_epi32(drawn.v, 9), _mm512_set1_epi32(0x3f800000));
  return Pack(_mm512_sub_ps(_mm512_castsi512_ps(in_one_to_two), _mm512_set1_ps(0x1.fffffep-1f)));
}

}  // namespace avx512
}  // namespace driftglow::numeric
