#include <doctest/doctest.h>

#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "models/numeric/lane.hpp"
#include "sim/flight/random.hpp"
#include "tests/instruction_sets.hpp"
#include "tests/numeric/pack_probe.hpp"

using namespace driftglow;
using namespace driftglow::numeric;

namespace {

constexpr int most_lanes = 16;
constexpr float infinity = std::numeric_limits<float>::infinity();
constexpr float not_a_number = std::numeric_limits<float>::quiet_NaN();

// Bit by bit; what a NaN's bits are is nobody's business.
bool same(float a, float b) {
  return (std::isnan(a) && std::isnan(b)) ||
         std::bit_cast<std::uint32_t>(a) == std::bit_cast<std::uint32_t>(b);
}

// Numbers at which an operation may go wrong, in all combinations, and then all kinds of numbers at random:
// any bit pattern (NaNs, infinities, subnormals among them) and numbers about 1.
template <std::size_t arguments>
std::vector<std::array<float, arguments>> any_numbers() {
  const std::vector<float> special{0.0f,     -0.0f,     1.0f,         -1.0f,      0.5f,       -2.5f,
                                   3.0e38f,  -3.0e38f,  1e-38f,       1e-45f,     -1e-45f,    1.5e-39f,
                                   infinity, -infinity, not_a_number, 8388607.5f, 16777216.0f};
  std::vector<std::array<float, arguments>> numbers;
  std::size_t combinations = 1;
  for (std::size_t i = 0; i < arguments; ++i) combinations *= special.size();
  for (std::size_t i = 0; i < combinations; ++i) {
    std::array<float, arguments> all;
    std::size_t rest = i;
    for (float& x : all) {
      x = special[rest % special.size()];
      rest /= special.size();
    }
    numbers.push_back(all);
  }
  std::mt19937 engine(31);
  std::uniform_real_distribution<float> about_one(-4.0f, 4.0f);
  for (int i = 0; i < 100000; ++i) {
    std::array<float, arguments> all;
    for (float& x : all)
      x = i % 2 == 0 ? std::bit_cast<float>(static_cast<std::uint32_t>(engine())) : about_one(engine);
    numbers.push_back(all);
  }
  while (numbers.size() % most_lanes != 0) numbers.push_back(numbers.front());
  return numbers;
}

// Where the operation differs from `expected` lane by lane: nothing when it never does.
template <std::size_t arguments, std::size_t results = 1, class Expected>
std::string differences(const PackProbe& probe, PackProbe::Operation operation,
                        const std::vector<std::array<float, arguments>>& numbers, const Expected& expected) {
  alignas(64) float in[arguments * most_lanes], out[results * most_lanes];
  int count = 0;
  std::ostringstream first_one;
  for (std::size_t first = 0; first < numbers.size(); first += probe.lanes) {
    for (int l = 0; l < probe.lanes; ++l) {
      for (std::size_t a = 0; a < arguments; ++a) in[a * probe.lanes + l] = numbers[first + l][a];
    }
    operation(in, out);
    for (int l = 0; l < probe.lanes; ++l) {
      const std::array<float, results> want = expected(numbers[first + l]);
      for (std::size_t r = 0; r < results; ++r) {
        const float got = out[r * probe.lanes + l];
        if (same(got, want[r]) || count++ > 0) continue;
        for (const float x : numbers[first + l]) first_one << x << ' ';
        first_one << "gives " << got << ", not " << want[r] << "; differences: ";
      }
    }
  }
  return count == 0 ? "" : first_one.str() + std::to_string(count);
}

using One = std::array<float, 1>;
using Two = std::array<float, 2>;
using Three = std::array<float, 3>;
using Four = std::array<float, 4>;

float as_float(bool b) {
  return b ? 1.0f : 0.0f;
}

}  // namespace

// Reference: IEEE 754 single precision of the C++ compiler and library; of what lane.hpp itself defines, its
// scalar functions on the same numbers, which double holds exactly.
TEST_CASE("a pack does in each lane what the scalar does") {
  const auto ones = any_numbers<1>();
  const auto twos = any_numbers<2>();
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    const auto one = [&](PackProbe::Operation f, float (*g)(float)) {
      return differences<1>(p, f, ones, [&](const One& a) { return One{g(a[0])}; });
    };
    const auto two = [&](PackProbe::Operation f, float (*g)(float, float)) {
      return differences<2>(p, f, twos, [&](const Two& a) { return One{g(a[0], a[1])}; });
    };
    CHECK(one(p.copy, [](float x) { return x; }) == "");
    CHECK(one(p.negate, [](float x) { return -x; }) == "");
    CHECK(one(p.square_root, [](float x) { return std::sqrt(x); }) == "");
    CHECK(one(p.absolute, [](float x) { return static_cast<float>(absolute(static_cast<double>(x))); }) ==
          "");
    CHECK(two(p.add, [](float x, float y) { return x + y; }) == "");
    CHECK(two(p.subtract, [](float x, float y) { return x - y; }) == "");
    CHECK(two(p.multiply, [](float x, float y) { return x * y; }) == "");
    CHECK(two(p.divide, [](float x, float y) { return x / y; }) == "");
    CHECK(two(p.less, [](float x, float y) { return as_float(x < y); }) == "");
    CHECK(two(p.greater, [](float x, float y) { return as_float(x > y); }) == "");
    CHECK(two(p.less_equal, [](float x, float y) { return as_float(x <= y); }) == "");
    CHECK(two(p.equal, [](float x, float y) { return as_float(x == y); }) == "");
    // With a NaN, and with zeros of both signs, the second argument is the result.
    CHECK(two(p.minimum, [](float x, float y) {
            return static_cast<float>(minimum(static_cast<double>(x), static_cast<double>(y)));
          }) == "");
    CHECK(two(p.maximum, [](float x, float y) {
            return static_cast<float>(maximum(static_cast<double>(x), static_cast<double>(y)));
          }) == "");
  });
}

TEST_CASE("minimum and maximum with a NaN give the second argument in scalar and packs") {
  const std::vector<Two> numbers(most_lanes, {not_a_number, 2.0f});
  const std::vector<Two> swapped(most_lanes, {2.0f, not_a_number});
  CHECK(minimum(std::nan(""), 2.0) == 2.0);
  CHECK(std::isnan(maximum(2.0, std::nan(""))));
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    for (const auto operation : {p.minimum, p.maximum}) {
      CHECK(differences<2>(p, operation, numbers, [](const Two&) { return One{2.0f}; }) == "");
      CHECK(differences<2>(p, operation, swapped, [](const Two&) { return One{not_a_number}; }) == "");
    }
  });
}

// std::fma rounds once as IEEE 754 wants; the baseline has no such instruction and rounds twice.
TEST_CASE("multiply_add is fused where the set has it") {
  const auto threes = any_numbers<3>();
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    const auto fused = [](const Three& a) { return One{std::fma(a[0], a[1], a[2])}; };
    const auto twice = [](const Three& a) { return One{a[0] * a[1] + a[2]}; };
    const auto from_fused = differences<3>(p, p.multiply_add, threes, fused);
    const auto from_twice = differences<3>(p, p.multiply_add, threes, twice);
    const bool baseline = set == flight::InstructionSet::baseline;
    CHECK((baseline ? from_twice : from_fused) == "");
    // The numbers tell the two apart.
    CHECK((baseline ? from_fused : from_twice) != "");
  });
}

TEST_CASE("select, any and bits look at each lane alone") {
  const auto fours = any_numbers<4>();
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    CHECK(differences<4>(p, p.select, fours, [](const Four& a) { return One{a[0] < a[1] ? a[2] : a[3]}; }) ==
          "");
    int wrong = 0;
    alignas(64) float in[2 * most_lanes];
    for (std::uint32_t pattern = 0; pattern < (1U << p.lanes); ++pattern) {
      for (int l = 0; l < p.lanes; ++l) {
        in[l] = 1.0f;
        in[p.lanes + l] = ((pattern >> l) & 1U) != 0 ? 2.0f : (l % 2 == 0 ? 0.5f : not_a_number);
      }
      wrong += p.bits(in) != pattern;
      wrong += p.any(in) != (pattern != 0);
    }
    CHECK(wrong == 0);
  });
}

// Reference: the library's nearbyint in the default mode, nearest with halves to even.
TEST_CASE("rounding to whole numbers") {
  std::vector<One> numbers = any_numbers<1>();
  const auto add = [&](float x) {
    for (const float y : {x, std::nextafter(x, infinity), std::nextafter(x, -infinity)}) {
      numbers.push_back({y});
      numbers.push_back({-y});
    }
  };
  for (int i = 0; i < 3000; ++i) add(static_cast<float>(i) + 0.5f);
  // Halves stand among the numbers up to 2^23.
  for (int power = 10; power < 32; ++power) {
    for (int i = -20; i <= 20; ++i) add(std::ldexp(1.0f, power) + 0.5f * static_cast<float>(i));
  }
  while (numbers.size() % most_lanes != 0) numbers.push_back({0.0f});
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    CHECK(differences<1>(p, p.round_nearest, numbers,
                         [](const One& a) { return One{std::nearbyint(a[0])}; }) == "");
  });
  // The scalar has no -0 here.
  for (const auto& [x] : numbers) {
    if (std::fabs(x) < 1e15f)
      REQUIRE(round_nearest(static_cast<double>(x)) == std::nearbyint(static_cast<double>(x)));
  }
}

TEST_CASE("truncation and indices") {
  std::vector<float> numbers{0.0f,        0.999999940f, 1.0f,          1.99999988f, 8388607.5f,
                             16777215.0f, 16777216.0f,  2147483520.0f, 123.0f,      0x1p-149f};
  std::mt19937 engine(5);
  const std::uint32_t top = std::bit_cast<std::uint32_t>(2147483520.0f);
  while (numbers.size() % most_lanes != 0 || numbers.size() < 100000)
    numbers.push_back(std::bit_cast<float>(static_cast<std::uint32_t>(engine() % (top + 1))));
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    alignas(64) float in[2 * most_lanes], real[most_lanes];
    alignas(64) std::int32_t out[most_lanes];
    int wrong = 0;
    for (std::size_t first = 0; first < numbers.size(); first += p.lanes) {
      std::copy_n(&numbers[first], p.lanes, in);
      p.truncate(in, out);
      p.to_real(in, real);
      for (int l = 0; l < p.lanes; ++l) {
        const std::int64_t scalar = truncate(static_cast<double>(in[l]));
        wrong += out[l] != scalar;
        wrong += real[l] != static_cast<float>(to_real(scalar));
      }
      for (int l = 0; l < p.lanes; ++l) {
        in[l] = std::fmod(in[l], 1e6f);
        in[p.lanes + l] = std::fmod(2.0f * in[l], 77777.0f);
      }
      p.index_sum(in, out);
      for (int l = 0; l < p.lanes; ++l) {
        const auto whole = [](float x) { return truncate(static_cast<double>(x)); };
        wrong += out[l] != whole(in[l]) * 7 + 11 + whole(in[p.lanes + l]);
      }
    }
    CHECK(wrong == 0);
    p.lane_number(out);
    for (int l = 0; l < p.lanes; ++l) CHECK(out[l] == l);
    alignas(64) float constant[most_lanes];
    p.broadcast(0.1, constant);
    for (int l = 0; l < p.lanes; ++l) CHECK(constant[l] == 0.1f);
  });
  CHECK(lane_number<double>() == 0);
}

// frexp and ldexp of the library; frexp's mantissa lies in [0.5, 1).
TEST_CASE("exponents are split off and put on") {
  std::vector<One> numbers{{std::numeric_limits<float>::min()}, {std::numeric_limits<float>::max()}, {1.0f}};
  std::vector<Two> scaled;
  std::mt19937 engine(8);
  while (numbers.size() < 100000)
    numbers.push_back(
        {std::bit_cast<float>(0x00800000U + static_cast<std::uint32_t>(engine()) % 0x7f000000U)});
  for (const auto& [x] : numbers) {
    const auto k = static_cast<float>(static_cast<int>(engine() % 254) - 126);
    scaled.push_back({(scaled.size() % 2 == 0 ? 1.0f : -1.0f) * x, k});
  }
  const auto split = [](const One& a) {
    int exponent = 0;
    const float mantissa = std::frexp(a[0], &exponent);
    return Two{static_cast<float>(exponent - 1), 2.0f * mantissa};
  };
  for (const auto& x : numbers) {
    double mantissa = 0.0;
    const double exponent = split_exponent(static_cast<double>(x[0]), mantissa);
    const Two want = split(x);
    REQUIRE(exponent == static_cast<double>(want[0]));
    REQUIRE(mantissa == static_cast<double>(want[1]));
  }
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    CHECK(differences<1, 2>(p, p.split_exponent, numbers, split) == "");
    CHECK(differences<2>(p, p.scale_exponent, scaled,
                         [](const Two& a) { return One{std::ldexp(a[0], static_cast<int>(a[1]))}; }) == "");
  });
}

// Tables just as long as they are read, so that the address sanitizer sees a read beyond the end.
TEST_CASE("rows of a table") {
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    const auto read = [&](PackProbe::Reading reading, int count) {
      constexpr int rows = 1000;
      std::vector<float> table(rows + count - 1);
      for (std::size_t i = 0; i < table.size(); ++i) table[i] = 0.25f + static_cast<float>(i);
      std::mt19937 engine(3);
      alignas(64) float index[most_lanes], out[20 * most_lanes];
      int wrong = 0;
      for (int i = 0; i < 500; ++i) {
        for (int l = 0; l < p.lanes; ++l) index[l] = static_cast<float>(engine() % rows);
        index[i % p.lanes] = rows - 1;
        reading(table.data(), index, out);
        for (int l = 0; l < p.lanes; ++l) {
          for (int k = 0; k < count; ++k)
            wrong += out[k * p.lanes + l] != table[static_cast<std::size_t>(index[l]) + k];
        }
      }
      return wrong;
    };
    CHECK(read(p.load_row_4, 4) == 0);
    CHECK(read(p.load_row_8, 8) == 0);
    CHECK(read(p.load_row_16, 16) == 0);
    CHECK(read(p.load_row_20, 20) == 0);
    CHECK(read(p.load_two, 2) == 0);
  });
  const double table[] = {1.0, 2.0, 3.0, 4.0, 5.0};
  double row[4], first = 0.0, second = 0.0;
  load_row(table, 1, row);
  for (int k = 0; k < 4; ++k) CHECK(row[k] == table[k + 1]);
  load_two(table, 3, first, second);
  CHECK(first == 4.0);
  CHECK(second == 5.0);
}

// Even lanes first (lane.hpp), and every lane has a place.
TEST_CASE("a pack keeps its generators even lanes first") {
  CHECK(stream_slot(0, 1) == 0);
  const int of_eight[] = {0, 4, 1, 5, 2, 6, 3, 7};
  for (int l = 0; l < 8; ++l) CHECK(stream_slot(l, 8) == of_eight[l]);
  for (const int lanes : {4, 16}) {
    for (int l = 0; l < lanes; l += 2) {
      CHECK(stream_slot(l, lanes) == l / 2);
      CHECK(stream_slot(l + 1, lanes) == lanes / 2 + l / 2);
    }
  }
}

// Reference: pcg-cpp, the generator's own library, seeded as the flight seeds it.
TEST_CASE("a pack draws in each lane what pcg-cpp draws from the same stream") {
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    alignas(64) std::uint64_t state[most_lanes], increment[most_lanes];
    alignas(64) std::uint32_t drawn[most_lanes];
    std::vector<pcg32> streams;
    for (int l = 0; l < p.lanes; ++l) {
      const auto start = flight::stream_state(77, l, 3, flight::Purpose::air);
      state[stream_slot(l, p.lanes)] = start.state;
      increment[stream_slot(l, p.lanes)] = start.increment;
      streams.push_back(flight::random_stream(77, l, 3, flight::Purpose::air));
    }
    int wrong = 0, unturned = 0;
    for (int i = 0; i < 20000; ++i) {
      unturned += (state[0] >> 59) == 0;
      p.draw(state, increment, drawn);
      for (int l = 0; l < p.lanes; ++l) wrong += drawn[l] != streams[l]();
    }
    CHECK(wrong == 0);
    CHECK(unturned > 100);
  });
}

TEST_CASE("uniform numbers are the doubles of the same draw") {
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    alignas(64) std::uint32_t drawn[most_lanes];
    alignas(64) float out[most_lanes];
    int wrong = 0;
    for (std::uint32_t first = 0; first < (1U << 23); first += p.lanes) {
      for (int l = 0; l < p.lanes; ++l) drawn[l] = ((first + l) << 9) | (0x1ffU & (first * 41U));
      p.unit_interval(drawn, out);
      for (int l = 0; l < p.lanes; ++l) wrong += static_cast<double>(out[l]) != unit_interval(drawn[l]);
    }
    CHECK(wrong == 0);
  });
  CHECK(unit_interval(0U) == 0x1p-24);
  CHECK(unit_interval(0xffffffffU) == 1.0 - 0x1p-24);
}
