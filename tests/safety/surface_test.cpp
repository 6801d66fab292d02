#include "models/safety/surface.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>
#include <cmath>

#include "models/coil/turn_field.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using constant::mu_0;
using constant::pi;
using safety::Enclosure;
using safety::OutsideField;
using safety::Symmetry;

namespace {

constexpr Enclosure vessel{0.1, 0.0, 0.32};
const Eigen::Vector3d centre(0.0, 0.0, 0.16);

// A magnetic dipole in closed form.
OutsideField dipole(double moment, const Eigen::Vector3d& axis, Symmetry symmetry) {
  return {[=](const Eigen::Vector3d& place) {
            const Eigen::Vector3d d = place - centre;
            const double r = d.norm(), along = axis.dot(d) / r;
            return mu_0 * moment / (4.0 * pi * r * r * r) * std::sqrt(1.0 + 3.0 * along * along);
          },
          symmetry};
}

// Two turns at the ends in opposition: no field at the centre, none at a point of the mid-plane's axis.
double opposed_turns(const Eigen::Vector3d& place) {
  const double r = std::hypot(place.x(), place.y());
  const auto low = coil::turn_field(0.09, r, place.z() - 0.06),
             high = coil::turn_field(0.09, r, place.z() - 0.26);
  return std::hypot(low.radial - high.radial, low.axial - high.axial);
}

double distance_from(const Enclosure& enclosure, double r, double z) {
  const double out = std::fmax(0.0, r - enclosure.radius);
  const double beyond = std::fmax(0.0, std::fmax(enclosure.low - z, z - enclosure.high));
  return std::hypot(out, beyond);
}

}  // namespace

// Closed form: on a surface 0.05 m off, a dipole along z is largest where 1/r^3 sqrt(1 + 3 cos^2) is, found
// here by 200 000 points of the meridian.
TEST_CASE("the largest value on a surface, dipole in closed form") {
  const Outside outside("dipole in closed form over 200 000 points");
  for (const double distance : {0.01, 0.05, 0.4, 5.0}) {
    double expected = 0.0;
    const auto field = dipole(1.0, Eigen::Vector3d::UnitZ(), Symmetry::axial);
    for (int i = 0; i <= 200000; ++i) {
      // Side, then rounded edge, then end, each in its own third.
      const double t = 3.0 * i / 200000.0, part = t - std::floor(t);
      const double angle = 0.5 * pi * part;
      const Eigen::Vector3d place = t < 1.0   ? Eigen::Vector3d(0.1 + distance, 0.0, 0.16 + 0.16 * t)
                                    : t < 2.0 ? Eigen::Vector3d(0.1 + distance * std::cos(angle), 0.0,
                                                                0.32 + distance * std::sin(angle))
                                              : Eigen::Vector3d(0.1 * (1.0 - part), 0.0, 0.32 + distance);
      expected = std::fmax(expected, field.flux_density_rms(place));
    }
    const auto peak = largest_at_distance(field, vessel, distance);
    outside.matches("largest flux density on a surface round the vessel [T]", peak.flux_density_rms, expected,
                    1e-5);
    CHECK(distance_from(vessel, std::hypot(peak.place.x(), peak.place.y()), peak.place.z()) ==
          relative(distance, 1e-9));
    CHECK(field.flux_density_rms(peak.place) == peak.flux_density_rms);
    // The same field without being told that it is axially symmetric.
    const auto any = dipole(1.0, Eigen::Vector3d::UnitZ(), Symmetry::none);
    outside.matches("largest flux density on a surface round the vessel [T]",
                    largest_at_distance(any, vessel, distance).flux_density_rms, expected, 1e-5);
  }
}

// A dipole across the vessel: by symmetry the largest value of the side is on its axis, B = mu0 m/(2 pi r^3).
TEST_CASE("a field without symmetry") {
  const Outside outside("dipole across, closed form");
  const Eigen::Vector3d axis(std::cos(0.7), std::sin(0.7), 0.0);
  const auto peak = largest_at_distance(dipole(2.0, axis, Symmetry::none), vessel, 0.03);
  outside.matches("largest flux density of a dipole across [T]", peak.flux_density_rms,
                  mu_0 * 2.0 / (2.0 * pi * std::pow(0.13, 3)), 1e-5);
  CHECK(std::fabs(axis.dot((peak.place - centre).normalized())) == relative(1.0, 1e-4));
}

// Fields have zeros where a single probe would find nothing: here the centre of the side.
TEST_CASE("opposed coils are seen although the field vanishes at places") {
  const Outside outside("scan of 100 000 points");
  CHECK(opposed_turns({0.0, 0.0, 0.16}) == doctest::Approx(0.0).scale(1e-9));
  const auto peak = largest_at_distance({opposed_turns, Symmetry::axial}, vessel, 0.01);
  double expected = 0.0;
  for (int i = 0; i <= 100000; ++i)
    expected = std::fmax(expected, opposed_turns({0.11, 0.0, 0.32 * i / 100000.0}));
  outside.matches("largest flux density of opposed coils [T]", peak.flux_density_rms, expected, 1e-5);
}

// Closed form: the dipole's surface of one level is r(theta) = cube root; its farthest point from the vessel,
// by scanning theta.
TEST_CASE("the distance beyond which a dipole is below a level") {
  const Outside outside("dipole's surface of one level, scanned");
  for (const double level : {27e-6, 1e-6, 1e-9}) {
    double expected = 0.0;
    for (int i = 0; i <= 100000; ++i) {
      const double angle = 0.5 * pi * i / 100000.0;
      const double r =
          std::cbrt(mu_0 / (4.0 * pi * level) * std::sqrt(1.0 + 3.0 * std::pow(std::cos(angle), 2)));
      expected = std::fmax(expected, distance_from(vessel, r * std::sin(angle), 0.16 + r * std::cos(angle)));
    }
    const auto found =
        distance_below(dipole(1.0, Eigen::Vector3d::UnitZ(), Symmetry::axial), vessel, level, 0.01, 50.0);
    if (expected < 0.01) {
      CHECK(*found == 0.01);
    } else {
      REQUIRE(found);
      CHECK(*found >= expected * (1.0 - 1e-5));
      outside.matches("distance beyond which a dipole is below a level [m]", *found, expected, 1.1e-3);
    }
  }
  CHECK_FALSE(
      distance_below(dipole(1e9, Eigen::Vector3d::UnitZ(), Symmetry::axial), vessel, 1e-9, 0.01, 50.0));
}

// A field that breaks the monotone fall: 2 uT between 1 m and 2.5 m off, little before.
TEST_CASE("a second source farther out is not passed over") {
  const OutsideField field{[](const Eigen::Vector3d& p) {
                             const double d = distance_from(vessel, std::hypot(p.x(), p.y()), p.z());
                             return d > 1.0 && d < 2.5 ? 2e-6 : 1e-9;
                           },
                           Symmetry::axial};
  const auto found = distance_below(field, vessel, 1e-6, 0.01, 50.0);
  REQUIRE(found);
  CHECK(*found == relative(2.5, 1.1e-3));
}

TEST_CASE("exposure surfaces: faults") {
  const auto field = dipole(1.0, Eigen::Vector3d::UnitZ(), Symmetry::axial);
  CHECK_THROWS_AS(largest_at_distance(field, vessel, 0.0), LogicError);
  CHECK_THROWS_AS(largest_at_distance(field, {0.1, 0.3, 0.3}, 0.1), LogicError);
  CHECK_THROWS_AS(distance_below(field, vessel, 0.0, 0.01, 1.0), LogicError);
  CHECK_THROWS_AS(distance_below(field, vessel, 1e-6, 1.0, 1.0), LogicError);
  CHECK_THROWS_AS(largest_at_distance({[](const Eigen::Vector3d&) { return std::nan(""); }, Symmetry::axial},
                                      vessel, 0.1),
                  LogicError);
}
