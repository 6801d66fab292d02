#include "models/motion/forces.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "models/motion/rotation.hpp"
#include "tests/motion/cage.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::motion;

namespace {
const AirProperties room_air{1.204, 1.82e-5};
}  // namespace

// Standard drag curve of a sphere, Clift, Grace & Weber, Bubbles, Drops and Particles (1978), table 5.1
// values from memory: C_D(0.1) = 245, C_D(1) = 27.2, C_D(10) = 4.3, C_D(100) = 1.09, C_D(1000) = 0.47,
// C_D(1e4) = 0.40. The correlation is stated to lie within 6 % of the curve; Stokes' law is the exact limit.
TEST_CASE("the sphere's drag coefficient follows the standard drag curve") {
  const Outside outside("Clift, Grace & Weber 1978, table 5.1 [memory]");
  const double curve[][2] = {{0.1, 245.0},  {1.0, 27.2},    {10.0, 4.3},
                             {100.0, 1.09}, {1000.0, 0.47}, {1e4, 0.40}};
  for (const auto& [re, expected] : curve)
    outside.matches("drag coefficient of a sphere", sphere_drag_coefficient(re), expected, 0.06);
  Outside("Stokes' law")
      .matches("drag coefficient of a sphere times Re over 24, slow",
               sphere_drag_coefficient(1e-4) * 1e-4 / 24.0, 1.0, 1e-3);
}

// Kirchhoff's couple on a slowly turning sphere, 8 pi mu a^3 Omega (Lamb, Hydrodynamics, art. 334), is the
// exact limit.
TEST_CASE("the spin couple has Kirchhoff's limit") {
  const Outside outside("Kirchhoff's couple (Lamb, art. 334)");
  const double a = 0.01, omega = 1e-4;
  const double re = room_air.density * a * a * omega / room_air.dynamic_viscosity;
  const double torque = 0.5 * room_air.density * std::pow(a, 5) *
                        sphere_torque_coefficient_times_reynolds(re) / re * omega * omega;
  outside.matches("couple on a slowly turning sphere [N m]", torque,
                  8.0 * constant::pi * room_air.dynamic_viscosity * a * a * a * omega, 1e-9);

  Body body = cage();
  body.radius = a;
  const auto load = air_load<DragLaw::sphere>(body, BodyTerms(body, room_air), Vec3<double>{0.0, 0.0, 0.0},
                                              Vec3<double>{1.0, 0.0, 0.0}, Vec3<double>{0.0, omega, 0.0});
  outside.matches("couple on a slowly turning sphere [N m]", load.torque_W.y, torque, 1e-9);
}

TEST_CASE("back-spin lifts a flying ball, top-spin presses it down") {
  const Outside outside("Tsuji 1985 with our cap, by hand");
  const Body body = cage();
  const BodyTerms terms(body, room_air);
  const Vec3<double> q{-2.0, 0.0, 0.0};  // flies along +x through still air
  const Vec3<double> n{0.0, 1.0, 0.0};
  const Vec3<double> back_spin{0.0, -20.0, 0.0};  // its top moves backwards
  const auto lifted = air_load<DragLaw::sphere>(body, terms, q, n, Vec3<double>{0.0, 0.0, 0.0} - back_spin);
  CHECK(lifted.force_W.z > 0.0);
  // Slope 0.4 and cap 0.35 [tsuji1985]: 0.4 * 0.015 * 20 / 2 = 0.06 on the dynamic pressure times the area.
  outside.matches("spin lift [N]", lifted.force_W.z, 0.5 * 1.204 * constant::pi * 0.015 * 0.015 * 4.0 * 0.06,
                  1e-12);
  const auto fast = air_load<DragLaw::sphere>(body, terms, q, n, Vec3<double>{0.0, 4000.0, 0.0});
  outside.matches("spin lift [N]", fast.force_W.z, 0.5 * 1.204 * constant::pi * 0.015 * 0.015 * 4.0 * 0.35,
                  1e-12);
}

TEST_CASE("a cage's drag splits along and across its axis") {
  const Outside outside("drag by components, by hand");
  const Body body = cage();
  const BodyTerms terms(body, room_air);
  const Vec3<double> none{0.0, 0.0, 0.0}, n{0.0, 0.0, 1.0};
  const double pressure = 0.5 * 1.204 * 9.0;
  outside.matches("drag of a cage along and across [N]",
                  air_load<DragLaw::fixed>(body, terms, Vec3<double>{0.0, 0.0, 3.0}, n, none).force_W.z,
                  pressure * 4e-4, 1e-12);
  outside.matches("drag of a cage along and across [N]",
                  air_load<DragLaw::fixed>(body, terms, Vec3<double>{3.0, 0.0, 0.0}, n, none).force_W.x,
                  pressure * 2e-4, 1e-12);
}

// Second route for the frame torque: sum of the drag of 4000 elements on the sphere, each with its own
// velocity. Exact for slow and for fast spin (the lattice's evenness), within 6 % in between.
TEST_CASE("the frame torque is the couple of drag spread over the sphere") {
  const Outside outside("drag of 4000 elements on the sphere");
  const Body body = cage();
  const BodyTerms terms(body, room_air);
  const Vec3<double> n{0.0, 0.0, 1.0};
  const double mean_area = (4e-4 + 2.0 * 2e-4) / 3.0, spin = 20.0;
  for (const double ratio : {1e-2, 0.1, 0.5, 1.0, 2.0, 1e4}) {  // of a |W| to |q|
    const Vec3<double> q{0.015 * spin / ratio, 0.0, 0.0};
    for (const Vec3<double> slip :
         {Vec3<double>{spin, 0.0, 0.0}, {0.0, spin, 0.0}, {0.6 * spin, 0.8 * spin, 0.0}}) {
      Vec3<double> sum{0.0, 0.0, 0.0};
      const int count = 4000;
      for (int i = 0; i < count; ++i) {
        const double z = 1.0 - (2.0 * i + 1.0) / count, phi = i * 2.399963229728653,
                     s = std::sqrt(1.0 - z * z);
        const Vec3<double> r{0.015 * s * std::cos(phi), 0.015 * s * std::sin(phi), 0.015 * z};
        const Vec3<double> v = q + numeric::cross(slip, r);
        sum += numeric::cross(r, (0.5 * room_air.density * mean_area / count * numeric::norm(v)) * v);
      }
      auto load = air_load<DragLaw::fixed>(body, terms, q, n, slip).torque_W;
      const double re = terms.spin_reynolds_per_rate * spin;
      load -= (terms.spin_drag * sphere_torque_coefficient_times_reynolds(re) / re * spin) * slip;
      outside.matches("frame torque along the slip [N m/s]", numeric::dot(load, slip),
                      numeric::dot(sum, slip), ratio <= 0.1 || ratio > 100.0 ? 0.005 : 0.06);
    }
  }
}

TEST_CASE("wall lift points inward, grows with the square of the sliding speed and ends one radius off") {
  const Outside outside("Einstein & El-Samni 1949, by hand");
  const Body body = cage();
  const BodyTerms terms(body, room_air);
  const Enclosure vessel{0.095, 0.32};
  const auto at = [&](double x, double z, double speed) {
    return wall_lift(body, terms, vessel, Vec3<double>{x, 0.0, z}, Vec3<double>{0.0, speed, 0.0});
  };
  outside.matches("lift off the wall [N]", at(0.080, 0.16, 2.0).x,
                  -0.5 * 1.204 * constant::pi * 0.015 * 0.015 * 0.178 * 4.0, 1e-9);
  CHECK(at(0.0649, 0.16, 2.0).x == 0.0);
  CHECK(at(0.0, 0.015, 2.0).z > 0.0);
  CHECK(at(0.0, 0.305, 2.0).z < 0.0);
}

TEST_CASE("a finite rotation keeps length and comes round") {
  const Outside outside("full turn");
  Vec3<double> n{1.0, 0.0, 0.0};
  const int steps = 1000;
  for (int i = 0; i < steps; ++i) n = rotated(n, Vec3<double>{0.0, 0.0, 2.0 * constant::pi / steps});
  outside.near("axis after a full turn", n.x, 1.0, 1e-12);
  outside.below("axis after a full turn", std::fabs(n.y), 1e-12);
}

// Rodrigues' formula with the C library's sine and cosine, for turns about slanting axes; tolerances are
// those that rotation.hpp states.
TEST_CASE("the angle of a finite rotation is right within what is stated") {
  const Outside outside("Rodrigues' formula with the C library");
  const Vec3<double> axes[] = {{0.0, 0.0, 1.0}, {0.6, -0.48, 0.64}, {-1.0 / 3.0, 2.0 / 3.0, 2.0 / 3.0}};
  const Vec3<double> starts[] = {{1.0, 0.0, 0.0}, {0.36, 0.48, 0.8}, {0.0, -0.6, 0.8}};
  double radian = 0.0, quarter = 0.0, half = 0.0, length = 0.0;
  const int angles = 4000;
  for (int i = -angles; i <= angles; ++i) {
    const double angle = constant::pi * i / angles;
    for (const auto& axis : axes) {
      for (const auto& n : starts) {
        const Vec3<double> exact = std::cos(angle) * n + std::sin(angle) * numeric::cross(axis, n) +
                                   ((1.0 - std::cos(angle)) * numeric::dot(axis, n)) * axis;
        const auto got = rotated(n, angle * axis);
        length = std::fmax(length, std::fabs(numeric::norm(got) - 1.0));
        // The angle turned too far shows shortened by the sine of that between axis and n.
        const double across = numeric::norm(numeric::cross(axis, n));
        const double error = numeric::norm(got - exact) / across;
        double& most = std::fabs(angle) <= 1.0 ? radian : 2 * std::abs(i) <= angles ? quarter : half;
        most = std::fmax(most, error);
      }
    }
  }
  MESSAGE("angle off by ", radian, " up to 1 rad, ", quarter, " up to a quarter turn, ", half,
          " up to a half");
  outside.below("finite rotation up to a radian, error", radian, 1e-10);
  outside.below("finite rotation up to a quarter turn, error", quarter, 1.5e-8);
  outside.below("finite rotation up to a half turn, error", half, 2.5e-5);
  CHECK(length < 1e-14);
}

TEST_CASE("an axis that has lost its length gets it back") {
  Vec3<double> n{1.001, 0.0, 0.0};
  n = rotated(n, Vec3<double>{0.0, 0.0, 0.01});
  // First order: what is left is 3/2 of the square of the fault.
  CHECK(std::fabs(numeric::norm(n) - 1.0) < 1.6e-6);
}

TEST_CASE("a body without mass or drag area is refused") {
  Body body = cage();
  body.mass = 0.0;
  CHECK_THROWS_AS(checked(body), InputError);
  body = cage();
  body.area_across = -1.0;
  CHECK_THROWS_AS(checked(body), InputError);
  // Hoerner's 1.17 on the disc's face.
  CHECK(disc_drag_area(0.01, 0.001).along == relative(1.17 * constant::pi * 1e-4, 1e-12));
  CHECK(disc_drag_area(0.01, 0.001).across == relative(2.0 * 0.01 * 0.001, 1e-12));
}

// By hand: the air pushes the centre of drag, l ahead of the centre of mass on the axis; torque = l n x F.
// With n along x and the push along z that turns n towards the push: about -y.
TEST_CASE("an offset centre of drag turns the tag like a weather vane") {
  const Outside outside("torque l n x F, by hand");
  Body body = cage();
  body.centre_offset = 2e-3;
  const BodyTerms terms(body, room_air);
  const auto load = air_load<DragLaw::fixed>(body, terms, Vec3<double>{0.0, 0.0, 3.0},
                                             Vec3<double>{1.0, 0.0, 0.0}, Vec3<double>{0.0, 0.0, 0.0});
  outside.matches("torque of an offset centre of drag [N m]", load.torque_W.y,
                  -2e-3 * 0.5 * 1.204 * 9.0 * 2e-4, 1e-12);
  CHECK(load.torque_W.x == 0.0);
  CHECK(load.torque_W.z == 0.0);
}

// Drag for a flow at 45 degrees, by components: 1/2 rho |q| (K_n q_n n + K_t q_t).
TEST_CASE("a cage's drag in an oblique flow leans towards its larger area") {
  const Outside outside("drag by components, by hand");
  const Body body = cage();
  const BodyTerms terms(body, room_air);
  const auto force = air_load<DragLaw::fixed>(body, terms, Vec3<double>{2.0, 0.0, 2.0},
                                              Vec3<double>{0.0, 0.0, 1.0}, Vec3<double>{0.0, 0.0, 0.0})
                         .force_W;
  const double pressure = 0.5 * 1.204 * std::sqrt(8.0);
  outside.matches("drag of a cage in an oblique flow [N]", force.x, pressure * 2e-4 * 2.0, 1e-12);
  outside.matches("drag of a cage in an oblique flow [N]", force.z, pressure * 4e-4 * 2.0, 1e-12);
}
