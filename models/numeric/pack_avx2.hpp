#pragma once

#include <immintrin.h>

#include "models/numeric/lane.hpp"

// Eight lanes of single precision in one AVX2 register. Meaning of the operations: lane.hpp. Include it
// first, and only where the compiler may use these instructions. The inline namespace gives everything made
// of this pack a symbol of its own.
namespace driftglow::numeric {
inline namespace avx2 {

struct Pack {
  __m256 v;
  Pack() = default;
  explicit Pack(__m256 x) : v(x) {}
  explicit Pack(double x) : v(_mm256_set1_ps(static_cast<float>(x))) {}
};
struct PackMask {
  __m256 m;  // all bits of a lane set or clear
};
struct PackIndex {
  __m256i v;
};

inline Pack operator+(const Pack& x, const Pack& y) {
  return Pack(_mm256_add_ps(x.v, y.v));
}
inline Pack operator-(const Pack& x, const Pack& y) {
  return Pack(_mm256_sub_ps(x.v, y.v));
}
inline Pack operator*(const Pack& x, const Pack& y) {
  return Pack(_mm256_mul_ps(x.v, y.v));
}
inline Pack operator/(const Pack& x, const Pack& y) {
  return Pack(_mm256_div_ps(x.v, y.v));
}
inline Pack operator-(const Pack& x) {
  return Pack(_mm256_xor_ps(x.v, _mm256_set1_ps(-0.0f)));
}
inline PackMask operator<(const Pack& x, const Pack& y) {
  return {_mm256_cmp_ps(x.v, y.v, _CMP_LT_OQ)};
}
inline PackMask operator>(const Pack& x, const Pack& y) {
  return y < x;
}
inline PackMask operator<=(const Pack& x, const Pack& y) {
  return {_mm256_cmp_ps(x.v, y.v, _CMP_LE_OQ)};
}
inline PackMask operator==(const Pack& x, const Pack& y) {
  return {_mm256_cmp_ps(x.v, y.v, _CMP_EQ_OQ)};
}
inline Pack select(const PackMask& m, const Pack& x, const Pack& y) {
  return Pack(_mm256_blendv_ps(y.v, x.v, m.m));
}
inline bool any(const PackMask& m) {
  return _mm256_testz_ps(m.m, m.m) == 0;
}
inline std::uint32_t bits(const PackMask& m) {
  return static_cast<std::uint32_t>(_mm256_movemask_ps(m.m));
}
inline Pack multiply_add(const Pack& a, const Pack& b, const Pack& c) {
  return Pack(_mm256_fmadd_ps(a.v, b.v, c.v));
}
inline Pack minimum(const Pack& x, const Pack& y) {
  return Pack(_mm256_min_ps(x.v, y.v));
}
inline Pack maximum(const Pack& x, const Pack& y) {
  return Pack(_mm256_max_ps(x.v, y.v));
}
inline Pack square_root(const Pack& x) {
  return Pack(_mm256_sqrt_ps(x.v));
}
inline Pack absolute(const Pack& x) {
  return Pack(_mm256_andnot_ps(_mm256_set1_ps(-0.0f), x.v));
}
inline Pack round_nearest(const Pack& x) {
  return Pack(_mm256_round_ps(x.v, _MM_FROUND_TO_NEAREST_INT | _MM_FROUND_NO_EXC));
}
inline Pack scale_exponent(const Pack& x, const Pack& k) {
  const __m256i biased = _mm256_add_epi32(_mm256_cvtps_epi32(k.v), _mm256_set1_epi32(127));
  return Pack(_mm256_mul_ps(x.v, _mm256_castsi256_ps(_mm256_slli_epi32(biased, 23))));
}
inline Pack split_exponent(const Pack& x, Pack& mantissa) {
  const __m256i raw = _mm256_castps_si256(x.v);
  mantissa.v = _mm256_castsi256_ps(
      _mm256_or_si256(_mm256_and_si256(raw, _mm256_set1_epi32(0x007fffff)), _mm256_set1_epi32(0x3f800000)));
  return Pack(_mm256_cvtepi32_ps(_mm256_sub_epi32(_mm256_srli_epi32(raw, 23), _mm256_set1_epi32(127))));
}
inline PackIndex truncate(const Pack& x) {
  return {_mm256_cvttps_epi32(x.v)};
}
inline Pack to_real(const PackIndex& i) {
  return Pack(_mm256_cvtepi32_ps(i.v));
}
inline PackIndex operator*(const PackIndex& i, int n) {
  return {_mm256_mullo_epi32(i.v, _mm256_set1_epi32(n))};
}
inline PackIndex operator+(const PackIndex& i, int n) {
  return {_mm256_add_epi32(i.v, _mm256_set1_epi32(n))};
}
inline PackIndex operator+(const PackIndex& i, const PackIndex& j) {
  return {_mm256_add_epi32(i.v, j.v)};
}

}  // namespace avx2

template <>
struct Lane<Pack> {
  using Mask = PackMask;
  using Index = PackIndex;
  struct Bits {
    __m256i v;
  };
  using Real = float;
  static constexpr int width = 8;
  static Pack load(const float* from) { return Pack(_mm256_load_ps(from)); }
  static PackIndex number() { return {_mm256_setr_epi32(0, 1, 2, 3, 4, 5, 6, 7)}; }
  static Bits draw(std::uint64_t* state, const std::uint64_t* increment) {
    const auto at = [](auto* p) { return reinterpret_cast<const __m256i*>(p); };
    // The low 64 bits of a product from three products of 32 bits.
    const auto multiplied = [](__m256i x) {
      const __m256i low = _mm256_set1_epi64x(static_cast<long long>(pcg32_multiplier & 0xffffffffULL));
      const __m256i high = _mm256_set1_epi64x(static_cast<long long>(pcg32_multiplier >> 32));
      const __m256i cross =
          _mm256_add_epi64(_mm256_mul_epu32(x, high), _mm256_mul_epu32(_mm256_srli_epi64(x, 32), low));
      return _mm256_add_epi64(_mm256_mul_epu32(x, low), _mm256_slli_epi64(cross, 32));
    };
    const auto step = [&](int half) {
      const __m256i old = _mm256_load_si256(at(state + 4 * half));
      _mm256_store_si256(reinterpret_cast<__m256i*>(state + 4 * half),
                         _mm256_add_epi64(multiplied(old), _mm256_load_si256(at(increment + 4 * half))));
      return old;
    };
    const __m256i even = step(0), odd = step(1);
    const auto scrambled = [](__m256i old) { return _mm256_xor_si256(_mm256_srli_epi64(old, 18), old); };
    constexpr int high_halves = 0xaa;
    const __m256i word = _mm256_blend_epi32(_mm256_srli_epi64(scrambled(even), 27),
                                            _mm256_slli_epi64(scrambled(odd), 5), high_halves);
    const __m256i turn = _mm256_and_si256(
        _mm256_blend_epi32(_mm256_srli_epi64(even, 59), _mm256_srli_epi64(odd, 27), high_halves),
        _mm256_set1_epi32(31));
    // A shift by 32 gives 0, so a turn by 0 needs no care.
    return {_mm256_or_si256(_mm256_srlv_epi32(word, turn),
                            _mm256_sllv_epi32(word, _mm256_sub_epi32(_mm256_set1_epi32(32), turn)))};
  }
};

inline namespace avx2 {

inline void store(float* to, const Pack& x) {
  _mm256_store_ps(to, x.v);
}

template <int count>
void load_row(const float* table, const PackIndex& i, Pack (&out)[count]) {
  static_assert(count % 4 == 0);
  alignas(32) std::int32_t at[8];
  _mm256_store_si256(reinterpret_cast<__m256i*>(at), i.v);
  unrolled<count / 4>([&](auto chunk) {
    // Register k takes four values of lanes k and k + 4; transposing its halves then leaves the lanes in
    // order.
    const auto part = [&](int k) {
      const float* from = table + 4 * chunk;
      return _mm256_insertf128_ps(_mm256_castps128_ps256(_mm_loadu_ps(from + at[k])),
                                  _mm_loadu_ps(from + at[k + 4]), 1);
    };
    const __m256 a = part(0), b = part(1), c = part(2), d = part(3);
    const __m256d ab_low = _mm256_castps_pd(_mm256_unpacklo_ps(a, b));
    const __m256d ab_high = _mm256_castps_pd(_mm256_unpackhi_ps(a, b));
    const __m256d cd_low = _mm256_castps_pd(_mm256_unpacklo_ps(c, d));
    const __m256d cd_high = _mm256_castps_pd(_mm256_unpackhi_ps(c, d));
    out[4 * chunk + 0].v = _mm256_castpd_ps(_mm256_unpacklo_pd(ab_low, cd_low));
    out[4 * chunk + 1].v = _mm256_castpd_ps(_mm256_unpackhi_pd(ab_low, cd_low));
    out[4 * chunk + 2].v = _mm256_castpd_ps(_mm256_unpacklo_pd(ab_high, cd_high));
    out[4 * chunk + 3].v = _mm256_castpd_ps(_mm256_unpackhi_pd(ab_high, cd_high));
  });
}
inline Pack fixed_value(const Pack& a) {
  return Pack(_mm256_cvtepi32_ps(_mm256_castps_si256(a.v)));
}
inline Pack fixed_difference(const Pack& a, const Pack& b) {
  return Pack(_mm256_cvtepi32_ps(_mm256_sub_epi32(_mm256_castps_si256(a.v), _mm256_castps_si256(b.v))));
}
inline void load_two(const float* table, const PackIndex& i, Pack& first, Pack& second) {
  const auto pairs = [&](__m128i at) {
    return _mm256_castpd_ps(_mm256_i32gather_pd(reinterpret_cast<const double*>(table), at, 4));
  };
  const __m256 low = pairs(_mm256_castsi256_si128(i.v)), high = pairs(_mm256_extracti128_si256(i.v, 1));
  // Shuffling within halves leaves the lanes as 0 1 4 5 2 3 6 7, in pairs.
  const auto ordered = [](__m256 x) {
    return _mm256_castpd_ps(_mm256_permute4x64_pd(_mm256_castps_pd(x), 0xd8));
  };
  first.v = ordered(_mm256_shuffle_ps(low, high, 0x88));
  second.v = ordered(_mm256_shuffle_ps(low, high, 0xdd));
}

inline Pack unit_interval(const Lane<Pack>::Bits& drawn) {
  const __m256i in_one_to_two = _mm256_or_si256(_mm256_srli_epi32(drawn.v, 9), _mm256_set1_epi32(0x3f800000));
  return Pack(_mm256_sub_ps(_mm256_castsi256_ps(in_one_to_two), _mm256_set1_ps(0x1.fffffep-1f)));
}

}  // namespace avx2
}  // namespace driftglow::numeric
