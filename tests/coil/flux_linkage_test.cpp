#include "models/coil/flux_linkage.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <random>

#include "models/coil/inductance.hpp"
#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "tests/coil/demo_coils.hpp"
#include "tests/coil/tag_turns.hpp"
#include "tests/outside.hpp"

using namespace driftglow::coil;
namespace constant = driftglow::constant;

namespace {
using Vector = std::array<double, 3>;

// n.B at a Cartesian point, from the turns themselves.
double along_axis(const std::vector<Turn>& turns, const Vector& p, const Vector& n) {
  const auto field = field_of(turns, std::hypot(p[0], p[1]), p[2]);
  return field.radial_over_rho * (n[0] * p[0] + n[1] * p[1]) + n[2] * field.axial;
}

// Fine reference by another road: the line integral of the vector potential round every receiver turn. A_phi
// / rho = M/(2 pi rho^2) with M the mutual inductance of the drive turn and a circle through the point; the
// trapezoidal rule converges geometrically on a closed smooth curve.
double flux_by_line_integral(const std::vector<Turn>& drive, const std::vector<Turn>& receiver,
                             const Vector& place, const Vector& n) {
  const Vector helper = std::fabs(n[0]) < 0.6 ? Vector{1.0, 0.0, 0.0} : Vector{0.0, 1.0, 0.0};
  const auto cross = [](const Vector& a, const Vector& b) {
    return Vector{a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
  };
  Vector e = cross(n, helper);
  const double length = std::hypot(e[0], e[1], e[2]);
  for (auto& c : e) c /= length;
  const Vector g = cross(n, e);
  constexpr int points = 24;
  double flux = 0.0;
  for (const auto& turn : receiver) {
    for (int i = 0; i < points; ++i) {
      const double angle = 2.0 * constant::pi * i / points;
      const double c = std::cos(angle), s = std::sin(angle);
      Vector p, step;
      for (int k = 0; k < 3; ++k) {
        p[k] = place[k] + turn.height * n[k] + turn.radius * (c * e[k] + s * g[k]);
        step[k] = turn.radius * (-s * e[k] + c * g[k]) * 2.0 * constant::pi / points;
      }
      const double rho = std::hypot(p[0], p[1]);
      double potential_over_rho = 0.0;
      for (const auto& source : drive)
        potential_over_rho += source.weight * mutual_inductance(source.radius, rho, p[2] - source.height) /
                              (2.0 * constant::pi * rho * rho);
      flux += turn.weight * potential_over_rho * (p[0] * step[1] - p[1] * step[0]);
    }
  }
  return flux;
}

struct Draw {
  std::mt19937_64 engine{2024};
  std::uniform_real_distribution<double> uniform{0.0, 1.0};
  ReceiverPlace<double> operator()(Reach reach) {
    const double r = reach.radius * std::sqrt(uniform(engine));
    const double z = reach.low + (reach.high - reach.low) * uniform(engine);
    const double n_z = 2.0 * uniform(engine) - 1.0, azimuth = 2.0 * constant::pi * uniform(engine);
    const double across = std::sqrt(1.0 - n_z * n_z);
    return {r, z, across * std::cos(azimuth), across * std::sin(azimuth), n_z};
  }
};

}  // namespace

// Central differences along n of the exact field: step 2 mm, error of order h^2 B''''/12, about (h/0.1 m)^2;
// the map's second derivatives have an error of order (cell/0.1 m)^2.
TEST_CASE("second derivative along the axis against finite differences") {
  const Outside outside("central differences of the exact field");
  const auto turns = demo_turns(Sense::right_handed);
  const auto map = CoilMap::computed(turns, demo_extent, demo_reach, 1, 1e-7);
  const double scale = map.rms_flux_density() / (0.12 * 0.12);
  Draw draw;
  double worst = 0.0;
  for (int i = 0; i < 500; ++i) {
    const auto at = draw(demo_reach);
    const Vector n{at.n_r, at.n_t, at.n_z};
    const double h = 1e-3;
    const auto moved = [&](double s) { return Vector{at.r + s * n[0], s * n[1], at.z + s * n[2]}; };
    const double middle = along_axis(turns, moved(0.0), n);
    const double difference =
        (along_axis(turns, moved(h), n) - 2.0 * middle + along_axis(turns, moved(-h), n)) / (h * h);
    const auto got = field_along_axis(map, at);
    worst = std::fmax(worst, std::fabs(got.curvature - difference) / scale);
    outside.near("field along an axis, by the map [T/A]", got.value, middle, 1e-6 * map.rms_flux_density());
  }
  MESSAGE("largest error of the curvature, of B/a^2: ", worst);
  outside.below("curvature of the field along an axis, error of B/a^2", worst, 0.01);
}

// Tolerance: 0.5 % of omega N A |B| over 10 000 random places and axes (issue 2), reference by line integral.
TEST_CASE("EMF error over random places and axes") {
  const Outside outside("line integral of the vector potential round every receiver turn");
  struct Case {
    const char* name;
    std::vector<Turn> turns;
    FluxRule expected;
  };
  const auto receiver = tag_turns();
  const auto moments = flux_moments(receiver);
  for (const auto& c : {Case{"demo", demo_turns(Sense::right_handed), FluxRule::curvature},
                        Case{"hard", hard_turns(), FluxRule::seven_point}}) {
    const auto map = CoilMap::computed(c.turns, demo_extent, demo_reach, 1);
    const auto choice = choose_flux_rule(map, receiver, demo_reach, 5);
    CHECK(choice.rule == c.expected);
    Draw draw;
    double worst = 0.0, worst_point = 0.0;
    for (int i = 0; i < 10000; ++i) {
      const auto at = draw(demo_reach);
      const Vector n{at.n_r, at.n_t, at.n_z}, place{at.r, 0.0, at.z};
      const double exact = flux_by_line_integral(c.turns, receiver, place, n);
      const double got = choice.rule == FluxRule::curvature ? flux_curvature(map, moments, at)
                                                            : flux_seven_point(map, moments, at);
      const auto field = field_of(c.turns, at.r, at.z);
      const double NAB =
          moments.area_turns * map.reference(std::hypot(at.r * field.radial_over_rho, field.axial));
      worst = std::fmax(worst, std::fabs(got - exact) / NAB);
      worst_point =
          std::fmax(worst_point, std::fabs(moments.area_turns * along_axis(c.turns, place, n) - exact) / NAB);
    }
    MESSAGE(std::string(c.name), ": EMF error found ", worst, "; set-up found curvature ",
            choice.curvature_error, ", seven points ", choice.seven_point_error,
            "; a point receiver would have ", worst_point);
    outside.below("EMF over random places and axes, error of omega N A B", worst, 0.005);
    // The test can fail: a receiver without extent is outside.
    CHECK(worst_point > 0.005);
  }
}
