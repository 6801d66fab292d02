#include "sim/flight/linkage.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/constants.hpp"
#include "sim/flight/tag_draw.hpp"
#include "tests/flight/plans.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::flight;

// Reference: the sum over every turn of the receiver of the mean over its disc of the exact turn fields (no
// map, no moments), by 400 points a disc; error <= 0.5 % of N A |B| (model.md 3).
TEST_CASE("the linkage of the demo's tag is the flux through its discs") {
  const Outside outside("mean of the exact field over every disc");
  const Plan plan = plan_of(demo());
  const DesignPlan& design = plan.designs.front();
  const auto& coils = std::get<maps::CoilState>(plan.drive.field);
  const auto turns = coils.circuit.turns();
  const auto scenario = demo();
  const auto receiver =
      maps::wound_receiver(std::get<scenario::CircuitReceiver>(scenario.tags.front().receiver).winding);
  const Vec3<double> places[] = {
      {0.0, 0.0, 0.16}, {0.03, -0.05, 0.09}, {-0.08, 0.0, 0.085}, {0.0, 0.079, 0.3}, {0.05, 0.05, 0.02}};
  const Vec3<double> axes[] = {{0.0, 0.0, 1.0}, {0.6, 0.0, 0.8}, {-0.48, 0.64, 0.6}, {0.8, 0.6, 0.0}};
  for (const auto& p : places) {
    for (const auto& n : axes) {
      const Vec3<double> helper =
          std::fabs(n.z) < 0.9 ? Vec3<double>{0.0, 0.0, 1.0} : Vec3<double>{1.0, 0.0, 0.0};
      Vec3<double> u = numeric::cross(n, helper);
      u = (1.0 / numeric::norm(u)) * u;
      const Vec3<double> v = numeric::cross(n, u);
      double flux = 0.0;
      for (const auto& turn : receiver.turns) {
        for (int i = 0; i < 400; ++i) {
          const double rho = turn.radius * std::sqrt((i + 0.5) / 400.0), phi = 2.399963229728653 * i;
          const auto q = p + turn.height * n + (rho * std::cos(phi)) * u + (rho * std::sin(phi)) * v;
          const auto B = coil::field_of(turns, std::hypot(q.x, q.y), q.z);
          flux += constant::pi * turn.radius * turn.radius / 400.0 *
                  (B.radial_over_rho * (q.x * n.x + q.y * n.y) + B.axial * n.z);
        }
      }
      flux *= coils.point.current_peak;
      const double got =
          std::sqrt(with_linkage(plan, design, [&](const auto& l) { return l.squared(design, p, n); }));
      const double scale = design.moments.area_turns * plan.flux_density_peak(p);
      outside.near("linkage of the demo's tag [Wb/A]", got, std::fabs(flux), 0.005 * scale);
    }
  }
}

// Coaxial coils look the same from all around: a tag turned about their axis with its place sees what it saw.
TEST_CASE("the linkage of coaxial coils knows no azimuth") {
  const Outside outside("symmetry about the axis");
  const Plan plan = plan_of(demo());
  const DesignPlan& design = plan.designs.front();
  const auto turned = [](const Eigen::Vector3d& v, double angle) {
    return Eigen::Vector3d(v.x() * std::cos(angle) - v.y() * std::sin(angle),
                           v.x() * std::sin(angle) + v.y() * std::cos(angle), v.z());
  };
  const Eigen::Vector3d place(0.06, 0.02, 0.07), axis(-0.48, 0.64, 0.6);
  const double seen = linkage(plan, design, {place, axis});
  for (const double angle : {0.7, 1.9, 3.3, 5.5})
    outside.matches("linkage of a tag turned about the axis [Wb]",
                    linkage(plan, design, {turned(place, angle), turned(axis, angle)}), seen, 1e-9);
}

TEST_CASE("a turning field's linkage is the length of the axis across its normal") {
  const Outside outside("projection by hand");
  const UniformLinkage turning({40e-6, 118e3, {0.0, 0.0, 1.0}, std::array<double, 3>{1.0, 0.0, 0.0}});
  const Plan plan = plan_of(scenario::read_scenario(config("check_uniform_field.yaml")));
  const auto squared = [&](const Vec3<double>& n) {
    return turning.squared(plan.designs[0], Vec3<double>{0.0, 0.0, 0.0}, n);
  };
  CHECK(squared({0.0, 1.0, 0.0}) == 0.0);
  outside.matches("linkage in a turning field [T]", std::sqrt(squared({0.6, 0.0, 0.8})), 40e-6, 1e-14);
}
