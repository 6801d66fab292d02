#include "models/motion/fluctuation.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::motion;

namespace {
struct Normals {
  std::mt19937_64 engine{20261125};
  double uniform() { return (static_cast<double>(engine() >> 11) + 0.5) * 0x1p-53; }
  Vec3<double> draw() {
    const auto a = numeric::normal_pair(uniform(), uniform());
    const auto b = numeric::normal_pair(uniform(), uniform());
    return {a.first, a.second, b.first};
  }
};
const Vec3<double> none{0.0, 0.0, 0.0};
}  // namespace

TEST_CASE("Box-Muller's normals have the moments of the normal distribution") {
  const Outside outside("moments of the normal distribution");
  Normals normals;
  const int count = 400000;
  double m1 = 0.0, m2 = 0.0, m4 = 0.0;
  for (int i = 0; i < count; ++i) {
    const double x = normals.draw().x;
    m1 += x / count;
    m2 += x * x / count;
    m4 += x * x * x * x / count;
  }
  // Standard errors 1, sqrt(2), sqrt(96) over sqrt(count); limits at 4.5 of them.
  const double se = 4.5 / std::sqrt(count);
  outside.below("mean of Box-Muller's normals", std::fabs(m1), se);
  outside.near("variance of Box-Muller's normals", m2, 1.0, std::sqrt(2.0) * se);
  outside.near("fourth moment of Box-Muller's normals", m4, 3.0, std::sqrt(96.0) * se);
}

// Exact at any step: variance 1 and autocorrelation e^{-t/T} [taylor1921] with steps of a tenth of T and of 2
// T. An Euler step would give variance 1/(1 - dt/2T) = 1.053 at dt = T/10 and diverge at 2 T; the limits
// below are 1.9 % and less.
TEST_CASE("the Ornstein-Uhlenbeck step is exact in variance and autocorrelation") {
  const Outside outside("Taylor 1921, exponential autocorrelation");
  for (const double dt : {0.1, 2.0}) {
    Normals normals;
    Vec3<double> w = normals.draw();
    const int count = 400000;
    double variance = 0.0, product = 0.0;
    for (int i = 0; i < count; ++i) {
      const Vec3<double> next = advance_fluctuation(w, none, 1.0, dt, normals.draw());
      variance += numeric::dot(next, next) / (3.0 * count);
      product += numeric::dot(next, w) / (3.0 * count);
      w = next;
    }
    // Effective number of independent squares: 3 count tanh(dt).
    const double limit = 4.5 * std::sqrt(2.0 / (3.0 * count * std::tanh(dt)));
    CHECK(limit < 0.02);
    outside.near("variance of the Ornstein-Uhlenbeck step", variance, 1.0, limit);
    outside.near("autocorrelation of the Ornstein-Uhlenbeck step", product, std::exp(-dt), limit);
  }
}

// One-dimensional tracers between reflecting walls in turbulence whose sigma varies five-fold: uniform for
// ever with the drift term, and gathered where it is calm without it. chi-square of 20 bins: 99.9 % point of
// 19 degrees of freedom is 43.8 (table).
TEST_CASE("well mixed stays well mixed, and only with the drift") {
  const Outside outside("chi-square, 99.9 % point of 19 degrees of freedom (table)");
  const auto chi_square = [](bool with_drift) {
    Normals normals;
    const int tracers = 20000, steps = 1500;
    const double dt = 0.004, rate = 5.0;
    std::vector<int> bins(20, 0);
    for (int i = 0; i < tracers; ++i) {
      double x = normals.uniform();
      Vec3<double> w = normals.draw();
      for (int k = 0; k < steps; ++k) {
        const double sigma = 0.2 + 0.8 * x;
        const Vec3<double> drift{with_drift ? 0.8 : 0.0, 0.0, 0.0};
        const Vec3<double> next = advance_fluctuation(w, drift, rate, dt, normals.draw());
        x += 0.5 * dt * sigma * (w.x + next.x);
        w = next;
        if (x < 0.0) {
          x = -x;
          w.x = -w.x;
        }
        if (x > 1.0) {
          x = 2.0 - x;
          w.x = -w.x;
        }
      }
      ++bins[std::min(19, static_cast<int>(x * 20.0))];
    }
    double sum = 0.0;
    for (const int n : bins) sum += (n - tracers / 20.0) * (n - tracers / 20.0) / (tracers / 20.0);
    return sum;
  };
  outside.below("chi-square of tracers in uneven turbulence", chi_square(true), 43.8);
  CHECK(chi_square(false) > 200.0);
}

// A steady push without noise: w = T push (1 - exp(-t/T)) by hand; a step of T/5 keeps it to a third of
// (dt/T)^2/12, one that took the push to first order would miss it by 10 %.
TEST_CASE("the drift of a fluctuation is of second order") {
  const Outside outside("linear relaxation, by hand");
  const Vec3<double> none{0.0, 0.0, 0.0}, push{3.0, 0.0, 0.0};
  Vec3<double> w = none;
  constexpr double rate = 4.0, dt = 0.05;
  for (int i = 1; i <= 10; ++i) {
    w = advance_fluctuation(w, push, rate, dt, none);
    outside.matches("fluctuation under a steady push", w.x, 3.0 / rate * (1.0 - std::exp(-rate * dt * i)),
                    0.2 * 0.2 / 12.0 + 1e-4);
  }
}

TEST_CASE("crossing trajectories shorten the memory by Csanady's factor") {
  const Outside outside("Csanady 1963");
  CHECK(forgetting_rate(10.0, 0.5, 0.0) == relative(10.0));
  outside.matches("rate of forgetting of a crossing tag [1/s]", forgetting_rate(10.0, 0.5, 1.5 * 1.5),
                  10.0 * std::sqrt(10.0), 1e-14);
  CHECK(forgetting_rate(0.0, 0.0, 1.0) == 0.0);
}

// Parsa & Voth's scaling by hand: epsilon = 8 m2/s3 on a tag of 27 mm: (8/0.027^2)^(1/3) = 2/0.09 = 22.2 per
// second, of which half is the standard deviation.
TEST_CASE("the seen spin's rate by hand") {
  const Outside outside("Parsa & Voth 2014, by hand");
  outside.matches("rate of the seen spin [1/s]", spin_rate(2.0, std::pow(0.027, -2.0 / 3.0)), 2.0 / 0.09,
                  1e-12);
  CHECK(spin_deviation_over_rate == 0.5);
}
