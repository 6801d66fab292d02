#include <doctest/doctest.h>

#include <bit>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include "models/constants.hpp"
#include "models/numeric/lane.hpp"
#include "sim/flight/random.hpp"
#include "tests/instruction_sets.hpp"
#include "tests/numeric/pack_probe.hpp"
#include "tests/outside.hpp"

// Elementary functions in single precision against long double of the C library, on numbers spread evenly
// over the bit patterns of a range: an odd stride, for the last bits of a number to vary. Tolerances are what
// elementary.hpp states.
using namespace driftglow;
using namespace driftglow::numeric;
using flight::InstructionSet;

namespace {

// A multiple of all packs' lanes.
constexpr int block = 16;

struct Results {
  float first, second;
};

// One block through every pack: arguments x (and y), results in the order of the arguments.
std::vector<Results> results_of(const PackProbe& p, PackProbe::Operation f, const float* x, const float* y) {
  alignas(64) float in[2 * block], out[2 * block] = {};
  std::vector<Results> results;
  for (int first = 0; first < block; first += p.lanes) {
    std::copy_n(x + first, p.lanes, in);
    std::copy_n(y + first, p.lanes, in + p.lanes);
    f(in, out);
    for (int l = 0; l < p.lanes; ++l) results.push_back({out[l], out[p.lanes + l]});
  }
  return results;
}

// Runs a function of every pack over pairs (x, y) and keeps, by set, the largest of its errors and a digest
// of all its results' bits.
class Sweep {
 public:
  // error(x, y, results): of one lane, in long double.
  template <class Error>
  Sweep(PackProbe::Operation PackProbe::*operation, const std::vector<float>& x, const std::vector<float>& y,
        const Error& error) {
    each_pack([&](InstructionSet set) {
      const PackProbe& p = probe_of(set);
      double worst = 0.0;
      std::uint64_t digest = 0;
      for (std::size_t first = 0; first + block <= x.size(); first += block) {
        const auto results = results_of(p, p.*operation, &x[first], &y[first]);
        for (int i = 0; i < block; ++i) {
          const auto off = static_cast<double>(error(first + i, results[i]));
          // A NaN is the worst of all.
          worst = off >= 0.0 ? std::fmax(worst, off) : std::numeric_limits<double>::infinity();
          for (const float r : {results[i].first, results[i].second})
            digest = flight::mixed(digest ^ std::bit_cast<std::uint32_t>(r));
        }
      }
      worst_[set] = worst;
      digest_[set] = digest;
      MESSAGE(std::string(flight::name(set)), ": ", worst);
    });
  }

  double worst() const {
    double most = 0.0;
    for (const auto& entry : worst_) most = std::fmax(most, entry.second);
    return most;
  }
  // avx2 and avx512 round alike (lane.hpp).
  bool fused_alike() const {
    const auto a = digest_.find(InstructionSet::avx2), b = digest_.find(InstructionSet::avx512);
    return a == digest_.end() || b == digest_.end() || a->second == b->second;
  }
  // Whether the baseline, whose multiply_add rounds twice, gives other bits; true where there is nothing to
  // compare it with.
  bool baseline_differs() const {
    const auto fused = digest_.find(InstructionSet::avx2);
    return fused == digest_.end() || fused->second != digest_.at(InstructionSet::baseline);
  }

 private:
  std::map<InstructionSet, double> worst_;
  std::map<InstructionSet, std::uint64_t> digest_;
};

// Both ends and every stride-th bit pattern between two positive numbers.
std::vector<float> between(float low, float high, std::uint32_t stride) {
  std::vector<float> numbers{low, high};
  const auto last = std::bit_cast<std::uint32_t>(high);
  for (auto bits = std::bit_cast<std::uint32_t>(low); bits <= last; bits += stride)
    numbers.push_back(std::bit_cast<float>(bits));
  return numbers;
}

std::vector<float> both_signs(std::vector<float> numbers) {
  const std::size_t count = numbers.size();
  for (std::size_t i = 0; i < count; ++i) numbers.push_back(-numbers[i]);
  return numbers;
}

std::vector<float> filled(std::vector<float> numbers) {
  while (numbers.size() % block != 0) numbers.push_back(numbers.front());
  return numbers;
}

std::vector<long double> each(const std::vector<float>& numbers, long double (*f)(long double)) {
  std::vector<long double> values;
  for (const float x : numbers) values.push_back(f(x));
  return values;
}

long double off(float got, long double exact) {
  return std::fabs(static_cast<long double>(got) - exact);
}

}  // namespace

TEST_CASE("the exponential of a pack") {
  const Outside outside("the C library in long double");
  auto numbers = both_signs(between(0x1p-26f, 87.0f, 251));
  for (const float x : {0.0f, -0.0f, 1e-45f, -1e-45f, 1e-30f}) numbers.push_back(x);
  numbers = filled(numbers);
  const auto exact = each(numbers, [](long double x) { return std::exp(x); });
  const Sweep sweep(&PackProbe::exponential, numbers, numbers,
                    [&](std::size_t i, const Results& r) { return off(r.first, exact[i]) / exact[i]; });
  outside.below("exponential of a pack, worst error", sweep.worst(), 2.6e-7);
  CHECK(sweep.fused_alike());
  CHECK(sweep.baseline_differs());
  // Beyond the ends, the value at the end.
  const float infinity = std::numeric_limits<float>::infinity();
  const float beyond[block] = {87.0f,  88.0f,  1e30f,  infinity, -87.0f,  -88.0f,  -1e30f,  -infinity,
                               87.01f, 100.0f, 200.0f, infinity, -87.01f, -100.0f, -200.0f, -infinity};
  each_pack([&](auto set) {
    const auto results = results_of(probe_of(set), probe_of(set).exponential, beyond, beyond);
    for (int i = 0; i < block; ++i) CHECK(results[i].first == results[i % 8 < 4 ? 0 : 4].first);
  });
}

TEST_CASE("the logarithm of a pack") {
  const Outside outside("the C library in long double");
  constexpr float smallest = std::numeric_limits<float>::min(), largest = std::numeric_limits<float>::max();
  const auto near = filled(between(0.5f, 2.0f, 7));
  const auto near_exact = each(near, [](long double x) { return std::log(x); });
  const Sweep about_one(&PackProbe::logarithm, near, near, [&](std::size_t i, const Results& r) {
    return near[i] == 1.0f ? off(r.first, 0.0L) : off(r.first, near_exact[i]) / std::fabs(near_exact[i]);
  });
  outside.below("logarithm of a pack about one, worst error", about_one.worst(), 1.8e-7);
  CHECK(about_one.fused_alike());
  CHECK(about_one.baseline_differs());
  const auto low = filled(between(smallest, 0.5f, 997)), high = filled(between(2.0f, largest, 997));
  for (const auto& numbers : {low, high}) {
    const auto exact = each(numbers, [](long double x) { return std::log(x); });
    const Sweep sweep(&PackProbe::logarithm, numbers, numbers, [&](std::size_t i, const Results& r) {
      return off(r.first, exact[i]) / std::fabs(exact[i]);
    });
    outside.below("logarithm of a pack, worst error", sweep.worst(), 1.1e-7);
    CHECK(sweep.fused_alike());
  }
  const std::vector<float> one(block, 1.0f);
  each_pack([&](auto set) {
    for (const auto& r : results_of(probe_of(set), probe_of(set).logarithm, one.data(), one.data()))
      CHECK(r.first == 0.0f);
  });
}

// angle: the exact angle [rad] that a number stands for, whole turns taken off where there are many.
void check_sine_cosine(PackProbe::Operation PackProbe::*operation, const std::vector<float>& numbers,
                       long double (*angle)(long double), double tolerance) {
  const auto angles = each(numbers, angle);
  const Sweep sweep(operation, numbers, numbers, [&](std::size_t i, const Results& r) {
    return std::fmax(off(r.first, std::sin(angles[i])), off(r.second, std::cos(angles[i])));
  });
  CHECK(sweep.worst() <= tolerance);
  CHECK(sweep.fused_alike());
  CHECK(sweep.baseline_differs());
}

TEST_CASE("sine and cosine of a pack") {
  auto numbers = both_signs(between(0x1p-26f, 1e3f, 251));
  numbers.push_back(0.0f);
  // Where the quadrants meet.
  for (int k = -1272; k <= 1272; ++k) {
    const auto x = static_cast<float>(0.25 * constant::pi * k);
    for (const float y : {x, std::nextafter(x, 1e4f), std::nextafter(x, -1e4f)}) numbers.push_back(y);
  }
  check_sine_cosine(
      &PackProbe::sine_cosine, filled(numbers), [](long double x) { return x; }, 1e-7);
}

TEST_CASE("sine and cosine of turns of a pack") {
  auto numbers = both_signs(between(0x1p-26f, 1e5f, 251));
  for (int k = 0; k < 16; ++k) numbers.push_back(0.0625f * static_cast<float>(k));
  check_sine_cosine(
      &PackProbe::sine_cosine_of_turns, filled(numbers),
      [](long double x) { return 2.0L * std::acos(-1.0L) * (x - std::nearbyint(x)); }, 1.1e-7);
}

// Box & Muller's formula in long double from the same uniform numbers, which are exact.
TEST_CASE("normal pairs of a pack") {
  const Outside outside("Box & Muller in long double");
  std::vector<float> radius, angle;
  pcg32 stream = flight::random_stream(5, 0, 0, flight::Purpose::air);
  for (std::uint32_t i = 0; i < 1000000; ++i) {
    // All of the smallest and largest numbers, whose radii are the longest and shortest.
    const std::uint32_t draw = i < 20000 ? i << 9 : i < 40000 ? ~((i - 20000) << 9) : stream();
    radius.push_back(static_cast<float>(unit_interval(draw)));
    angle.push_back(static_cast<float>(unit_interval(stream())));
  }
  std::vector<long double> first, second;
  for (std::size_t i = 0; i < radius.size(); ++i) {
    const long double r = std::sqrt(-2.0L * std::log(static_cast<long double>(radius[i])));
    const long double turn = 2.0L * std::acos(-1.0L) * angle[i];
    first.push_back(r * std::cos(turn));
    second.push_back(r * std::sin(turn));
  }
  const Sweep sweep(&PackProbe::normal_pair, radius, angle, [&](std::size_t i, const Results& r) {
    return std::fmax(off(r.first, first[i]), off(r.second, second[i]));
  });
  outside.below("normal pairs of a pack, worst error", sweep.worst(), 8e-7);
  CHECK(sweep.fused_alike());
  CHECK(sweep.baseline_differs());
}

// Moments of the normal distribution and its share beyond 3 and 4 standard deviations, erfc(x/sqrt 2), within
// 5 standard errors; draws of 16 streams of the flight, three pairs a step as it takes them.
TEST_CASE("normal pairs drawn from the flight's streams are normal") {
  const Outside outside("moments and tails of the normal distribution, 5 standard errors");
  each_pack([&](auto set) {
    const PackProbe& p = probe_of(set);
    alignas(64) std::uint64_t state[block], increment[block];
    alignas(64) std::uint32_t drawn[block];
    alignas(64) float u[2 * block], out[2 * block];
    double count = 0.0, moments[5] = {}, tail[2] = {}, of_pair = 0.0, of_next = 0.0;
    for (int first = 0; first < block; first += p.lanes) {
      float before[block] = {};
      for (int l = 0; l < p.lanes; ++l) {
        const auto start = flight::stream_state(4, first + l, 0, flight::Purpose::air);
        state[stream_slot(l, p.lanes)] = start.state;
        increment[stream_slot(l, p.lanes)] = start.increment;
      }
      for (int i = 0; i < 120000; ++i) {
        for (int k = 0; k < 2; ++k) {
          p.draw(state, increment, drawn);
          p.unit_interval(drawn, u + k * p.lanes);
        }
        p.normal_pair(u, out);
        for (int l = 0; l < p.lanes; ++l) {
          of_pair += static_cast<double>(out[l]) * static_cast<double>(out[p.lanes + l]);
          of_next += static_cast<double>(out[l]) * static_cast<double>(before[l]);
          before[l] = out[p.lanes + l];
        }
        for (int j = 0; j < 2 * p.lanes; ++j) {
          const auto x = static_cast<double>(out[j]);
          double power = 1.0;
          for (double& moment : moments) {
            moment += power;
            power *= x;
          }
          tail[0] += std::fabs(x) > 3.0;
          tail[1] += std::fabs(x) > 4.0;
        }
      }
    }
    count = moments[0];
    const double root = std::sqrt(count);
    // Variances of x, x2, x3, x4: 1, 2, 15, 96.
    outside.below("mean of the flight's normals", std::fabs(moments[1] / count), 5.0 / root);
    outside.near("variance of the flight's normals", moments[2] / count, 1.0, 5.0 * std::sqrt(2.0) / root);
    CHECK(std::fabs(moments[3] / count) <= 5.0 * std::sqrt(15.0) / root);
    outside.near("fourth moment of the flight's normals", moments[4] / count, 3.0,
                 5.0 * std::sqrt(96.0) / root);
    for (int k = 0; k < 2; ++k) {
      const double share = std::erfc((3.0 + k) / std::sqrt(2.0));
      MESSAGE("beyond ", 3 + k, " standard deviations: ", tail[k], " of ", count * share);
      outside.near("count of normals beyond 3 and 4 deviations", tail[k], count * share,
                   5.0 * std::sqrt(count * share));
    }
    // Products of independent normals have variance 1; half as many as numbers.
    CHECK(std::fabs(of_pair) <= 5.0 * std::sqrt(0.5 * count));
    CHECK(std::fabs(of_next) <= 5.0 * std::sqrt(0.5 * count));
  });
}
