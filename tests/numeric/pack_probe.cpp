#include "tests/numeric/pack_probe.hpp"

#include <cstring>
#include <type_traits>
#include <utility>

#include NUMBER_HEADER

#include "models/numeric/elementary.hpp"

namespace driftglow::numeric {
namespace {

// As in the flight's stages, whatever is called is inlined into functions made of T.
template <class T>
struct Probed {
  static constexpr int width = numeric::width<T>;

  static void keep(const T& x, float* out) { store(out, x); }
  static void keep(const Mask<T>& m, float* out) { store(out, numeric::select(m, T(1.0), T(0.0))); }
  static void keep(const Pair<T>& both, float* out) {
    store(out, both.first);
    store(out + width, both.second);
  }

  template <class F, int... i>
  static void call(const float* in, float* out, std::integer_sequence<int, i...>) {
    keep(F{}(load<T>(in + i * width)...), out);
  }
  template <class F, int arguments>
  [[gnu::flatten]] static void apply(const float* in, float* out) {
    call<F>(in, out, std::make_integer_sequence<int, arguments>{});
  }
  template <int arguments, class F>
  static constexpr PackProbe::Operation of(F) {
    return &apply<F, arguments>;
  }

  [[gnu::flatten]] static bool any(const float* in) {
    return numeric::any(load<T>(in) < load<T>(in + width));
  }
  [[gnu::flatten]] static std::uint32_t bits(const float* in) {
    return numeric::bits(load<T>(in) < load<T>(in + width));
  }
  [[gnu::flatten]] static void broadcast(double x, float* out) { store(out, T(x)); }

  static void keep_index(const Index<T>& i, std::int32_t* out) { std::memcpy(out, &i, sizeof i); }
  [[gnu::flatten]] static void truncate(const float* in, std::int32_t* out) {
    keep_index(numeric::truncate(load<T>(in)), out);
  }
  [[gnu::flatten]] static void index_sum(const float* in, std::int32_t* out) {
    keep_index(numeric::truncate(load<T>(in)) * 7 + 11 + numeric::truncate(load<T>(in + width)), out);
  }
  [[gnu::flatten]] static void lane_number(std::int32_t* out) { keep_index(numeric::lane_number<T>(), out); }

  template <int count>
  [[gnu::flatten]] static void load_row(const float* table, const float* index, float* out) {
    T row[count];
    numeric::load_row(table, numeric::truncate(load<T>(index)), row);
    for (int k = 0; k < count; ++k) store(out + k * width, row[k]);
  }
  [[gnu::flatten]] static void load_two(const float* table, const float* index, float* out) {
    Pair<T> both;
    numeric::load_two(table, numeric::truncate(load<T>(index)), both.first, both.second);
    keep(both, out);
  }

  [[gnu::flatten]] static void draw(std::uint64_t* state, const std::uint64_t* increment,
                                    std::uint32_t* out) {
    const auto drawn = numeric::draw<T>(state, increment);
    static_assert(sizeof drawn == width * sizeof(std::uint32_t));
    std::memcpy(out, &drawn, sizeof drawn);
  }
  [[gnu::flatten]] static void unit_interval(const std::uint32_t* drawn, float* out) {
    typename Lane<T>::Bits of_lanes;
    std::memcpy(&of_lanes, drawn, sizeof of_lanes);
    store(out, numeric::unit_interval(of_lanes));
  }

  static constexpr PackProbe probe() {
    const auto pair = [](const SineCosine<T>& of) { return Pair<T>{of.sine, of.cosine}; };
    using Join = decltype(pair);
    return {
        .lanes = width,
        .copy = of<1>([](T x) { return x; }),
        .add = of<2>([](T x, T y) { return x + y; }),
        .subtract = of<2>([](T x, T y) { return x - y; }),
        .multiply = of<2>([](T x, T y) { return x * y; }),
        .divide = of<2>([](T x, T y) { return x / y; }),
        .negate = of<1>([](T x) { return -x; }),
        .minimum = of<2>([](T x, T y) { return numeric::minimum(x, y); }),
        .maximum = of<2>([](T x, T y) { return numeric::maximum(x, y); }),
        .square_root = of<1>([](T x) { return numeric::square_root(x); }),
        .absolute = of<1>([](T x) { return numeric::absolute(x); }),
        .round_nearest = of<1>([](T x) { return numeric::round_nearest(x); }),
        .multiply_add = of<3>([](T a, T b, T c) { return numeric::multiply_add(a, b, c); }),
        .less = of<2>([](T x, T y) { return x < y; }),
        .greater = of<2>([](T x, T y) { return x > y; }),
        .less_equal = of<2>([](T x, T y) { return x <= y; }),
        .equal = of<2>([](T x, T y) { return x == y; }),
        .select = of<4>([](T x, T y, T a, T b) { return numeric::select(x < y, a, b); }),
        .split_exponent = of<1>([](T x) {
          Pair<T> both;
          both.first = numeric::split_exponent(x, both.second);
          return both;
        }),
        .scale_exponent = of<2>([](T x, T k) { return numeric::scale_exponent(x, k); }),
        .exponential = of<1>([](T x) { return numeric::exponential(x); }),
        .logarithm = of<1>([](T x) { return numeric::logarithm(x); }),
        .sine_cosine = of<1>([](T x) { return Join{}(numeric::sine_cosine(x)); }),
        .sine_cosine_of_turns = of<1>([](T x) { return Join{}(numeric::sine_cosine_of_turns(x)); }),
        .normal_pair = of<2>([](T u, T v) { return numeric::normal_pair(u, v); }),
        .any = &any,
        .bits = &bits,
        .broadcast = &broadcast,
        .truncate = &truncate,
        .index_sum = &index_sum,
        .to_real = of<1>([](T x) { return numeric::to_real(numeric::truncate(x)); }),
        .lane_number = &lane_number,
        .load_row_4 = &load_row<4>,
        .load_row_8 = &load_row<8>,
        .load_row_16 = &load_row<16>,
        .load_row_20 = &load_row<20>,
        .load_two = &load_two,
        .draw = &draw,
        .unit_interval = &unit_interval,
    };
  }
};

}  // namespace

constinit const PackProbe PROBE = Probed<NUMBER>::probe();

}  // namespace driftglow::numeric
