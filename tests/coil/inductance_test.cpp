#include "models/coil/inductance.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_sf_ellint.h>

#include <cmath>
#include <limits>

#include "models/coil/series_circuit.hpp"
#include "models/constants.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;

namespace {
struct Pair {
  double a, b, d;
};

// Neumann's double integral of two coaxial circles, one angle done by symmetry; GSL's adaptive rule.
double neumann(Pair pair) {
  gsl_function f{[](double t, void* p) {
                   const auto& [a, b, d] = *static_cast<Pair*>(p);
                   const double c = std::cos(t);
                   return c / std::sqrt(a * a + b * b + d * d - 2.0 * a * b * c);
                 },
                 &pair};
  gsl_integration_workspace* space = gsl_integration_workspace_alloc(2000);
  double result = 0.0, error = 0.0;
  gsl_integration_qag(&f, 0.0, constant::pi, 0.0, 1e-12, 2000, GSL_INTEG_GAUSS61, space, &result, &error);
  gsl_integration_workspace_free(space);
  return constant::mu_0 * pair.a * pair.b * result;
}

// Current-sheet inductance with Nagaoka's coefficient in Lorenz' closed form, less Rosa's round-wire
// correction (Rosa & Grover 1912, NBS Scientific Paper 169 [rosa1912], [memory]); `spread` is Rosa's B.
double nagaoka_rosa(double a, int turns, double pitch, double wire_diameter, double spread) {
  const double length = turns * pitch;
  const double k = std::sqrt(4.0 * a * a / (4.0 * a * a + length * length));
  const double k2 = k * k, c2 = 1.0 - k2;
  const double K = gsl_sf_ellint_Kcomp(k, GSL_PREC_DOUBLE), E = gsl_sf_ellint_Ecomp(k, GSL_PREC_DOUBLE);
  const double nagaoka = 4.0 / (3.0 * constant::pi * std::sqrt(c2)) * (c2 / k2 * (K - E) + E - k);
  const double sheet = constant::mu_0 * constant::pi * a * a * turns * turns / length * nagaoka;
  const double A = 1.25 - std::log(2.0 * pitch / wire_diameter);
  return sheet - constant::mu_0 * a * turns * (A + spread);
}

// Rosa's B from the geometric mean distance of two equal coplanar strips; its limit for many turns is ln(2
// pi) - 3/2 = 0.3379 and the printed value for 10 turns 0.2664 [memory].
double rosa_spread(int turns) {
  double sum = 0.0;
  for (int k = 1; k < turns; ++k) {
    const double up = k + 1.0, down = k - 1.0;
    const double log_mean = 0.5 * (up * up * std::log(up) - 2.0 * k * k * std::log(k) +
                                   (down > 0.0 ? down * down * std::log(down) : 0.0)) -
                            1.5;
    sum += (turns - k) * (std::log(k) - log_mean);
  }
  return 2.0 * sum / turns;
}
}  // namespace

// Tolerance: what the quadrature reaches (asked for 1e-12).
TEST_CASE("mutual inductance agrees with Neumann's integral") {
  const Outside outside("Neumann 1845, GSL quadrature");
  for (const Pair p : {Pair{0.1, 0.1, 1e-3}, Pair{0.1, 0.1, 0.16}, Pair{0.1, 0.012, 0.03},
                       Pair{0.1, 0.1001, 0.0}, Pair{0.1, 0.09, 0.5}})
    outside.matches("mutual inductance of coaxial circles [H]", mutual_inductance(p.a, p.b, p.d), neumann(p),
                    1e-10);
}

// Far away: two dipoles on one axis, mu0 pi a^2 b^2 / (2 d^3); next term 3 (a^2 + b^2)/(2 d^2) = 1.5e-8 at
// the distance.
TEST_CASE("far loops are dipoles") {
  const Outside outside("two magnetic dipoles on one axis (textbook)");
  outside.matches("mutual inductance of far coaxial circles [H]", mutual_inductance(0.1, 0.01, 1000.0),
                  constant::mu_0 * constant::pi * 1e-2 * 1e-4 / 2e9, 2e-8);
}

TEST_CASE("Rosa's correction is remembered right") {
  CHECK(rosa_spread(10) == relative(0.2664, 1e-3));
  CHECK(rosa_spread(100000) == relative(std::log(2.0 * constant::pi) - 1.5, 1e-3));
}

// Tolerance: 0.02 %, the agreement that model.md section 1 states for pitch/a <= 1/15. At 1 Hz the current
// fills the wire.
TEST_CASE("turn sum agrees with Nagaoka's coefficient and Rosa's correction") {
  const Outside outside(
      "Nagaoka's coefficient (Lorenz' form) with Rosa's round-wire correction, NBS Sci. Paper 169 [memory]");
  struct Case {
    double a, pitch, wire;
    int turns;
  };
  for (const Case c : {Case{0.1, 2e-3, 1e-3, 10}, Case{0.1, 6.6e-3, 1e-3, 40}, Case{0.05, 1e-3, 0.9e-3, 100},
                       Case{0.1, 1.5e-3, 1e-3, 20}}) {
    const SeriesCircuit coil(
        {wind({2.0 * c.a - c.wire, static_cast<double>(c.turns), 1, {c.wire, c.wire}, c.pitch}, 0.0,
              Sense::right_handed)});
    const double L = coil.inductance(1.0, 293.15);
    outside.matches("inductance of single-layer coils [H]", L,
                    nagaoka_rosa(c.a, c.turns, c.pitch, c.wire, rosa_spread(c.turns)), 2e-4);
  }
}

TEST_CASE("sense and lists of turns") {
  const Winding w{0.2, 5.0, 1, {1e-3, 1.1e-3}, 2e-3};
  const auto low = wind(w, 0.0, Sense::right_handed), high = wind(w, 0.1, Sense::right_handed);
  const auto against = wind(w, 0.1, Sense::left_handed);
  const double M = mutual_inductance(low.turns, high.turns);
  CHECK(mutual_inductance(low.turns, against.turns) == relative(-M, 1e-14));
  const double alone = SeriesCircuit({low}).inductance(1e5, 293.15);
  CHECK(SeriesCircuit({low, high}).inductance(1e5, 293.15) == relative(2.0 * (alone + M), 1e-13));
  CHECK(SeriesCircuit({low, against}).inductance(1e5, 293.15) == relative(2.0 * (alone - M), 1e-13));
}

// The limit of coinciding filaments; a program that computed it by iteration would not end.
TEST_CASE("a filament with itself has no finite mutual inductance") {
  CHECK(mutual_inductance(0.1, 0.1, 0.0) == std::numeric_limits<double>::infinity());
}
