#include "sim/flight/kernel.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include "sim/flight/vessel_block.hpp"
#include "tests/flight/plans.hpp"

using namespace driftglow;
using namespace driftglow::flight;

namespace {

using Vector = numeric::Vec3<double>;

template <class Real>
void step_all(VesselBlock<Real>& block, int step) {
  for (int stage = 0; stage < stages; ++stage) block.run(static_cast<Stage>(stage), step);
}

template <class Real>
Vector vector(const VesselBlock<Real>& block, int tag, int number, int lane) {
  return {block.state(tag, number, lane), block.state(tag, number + 1, lane),
          block.state(tag, number + 2, lane)};
}

// How far a pack is from the scalar kernel, at most over the steps.
struct Difference {
  double place;     // of the vessel's radius
  double velocity;  // of the rms over the lanes, tags of the design and steps
  double spin;      // likewise
  double axis;      // 1
};

// Of every tag that is not held, in every lane.
std::vector<Difference> differences(const Plan& plan, InstructionSet set, int steps) {
  std::vector<Difference> all;
  with_kernel(set, [&]<class Real>(const Kernel<Real>& kernel) {
    VesselBlock<Real> pack(plan, kernel, 0, kernel.lanes);
    std::vector<std::unique_ptr<VesselBlock<double>>> scalar;
    for (int lane = 0; lane < kernel.lanes; ++lane)
      scalar.push_back(std::make_unique<VesselBlock<double>>(plan, kernel_scalar, lane, 1));
    std::vector<Difference> largest(plan.tags * kernel.lanes, {0.0, 0.0, 0.0, 0.0});
    std::vector<double> velocity_squared(plan.tags, 0.0), spin_squared(plan.tags, 0.0);  // sums of a tag
    for (int step = 0; step < steps; ++step) {
      step_all(pack, step);
      for (int lane = 0; lane < kernel.lanes; ++lane) {
        step_all(*scalar[lane], step);
        for (int tag = 0; tag < plan.tags; ++tag) {
          const auto difference = [&](int number) {
            return numeric::norm(vector(pack, tag, number, lane) - vector(*scalar[lane], tag, number, 0));
          };
          const auto square = [&](int number) {
            const Vector v = vector(*scalar[lane], tag, number, 0);
            return numeric::dot(v, v);
          };
          Difference& most = largest[lane * plan.tags + tag];
          most.place = std::fmax(most.place, difference(place_x) / plan.vessel.radius);
          most.velocity = std::fmax(most.velocity, difference(velocity_x));
          most.spin = std::fmax(most.spin, difference(spin_x));
          most.axis = std::fmax(most.axis, difference(axis_x));
          velocity_squared[tag] += square(velocity_x);
          spin_squared[tag] += square(spin_x);
        }
      }
    }
    for (const DesignPlan& design : plan.designs) {
      double velocity = 0.0, spin = 0.0;
      for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
        velocity += velocity_squared[tag] / (1.0 * steps * kernel.lanes * design.count);
        spin += spin_squared[tag] / (1.0 * steps * kernel.lanes * design.count);
      }
      for (int lane = 0; lane < kernel.lanes; ++lane) {
        for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
          Difference most = largest[lane * plan.tags + tag];
          if (design.hold) {
            CHECK(most.place <= 1e-7);  // rounded once
            CHECK(most.velocity + most.spin == 0.0);
            CHECK(most.axis <= 1e-6);  // the same draws, at the error of sine and cosine
            continue;
          }
          REQUIRE(velocity > 0.0);
          REQUIRE(spin > 0.0);
          most.velocity /= std::sqrt(velocity);
          most.spin /= std::sqrt(spin);
          all.push_back(most);
        }
      }
    }
  });
  return all;
}

// The value below which a share of them lies.
double quantile(const std::vector<Difference>& all, double Difference::*of, double share) {
  std::vector<double> values;
  for (const Difference& one : all) values.push_back(one.*of);
  std::sort(values.begin(), values.end());
  return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
}

// The demo's tags where neither vents nor a circulation bend the stream function.
scenario::Scenario plain_air() {
  auto scenario = demo();
  auto& column = std::get<scenario::ColumnAir>(scenario.air.source);
  column.side_vents.reset();
  column.circulation = 0.0;
  return scenario;
}

}  // namespace

// Both take the same numbers from the same streams: another draw would show at once. Wanted (issue 3) is 1e-5
// in the first 100 steps, before collisions have multiplied the rounding of single precision (6e-8 a number).
// Every place keeps it in plain air and in the demo, and nine tags in ten everywhere; velocities too but for
// the few tags that hit something early (worst 2e-5 in the demo). The other bounds are two to three times
// what was measured over all packs. With chi of the air map rounded to single precision, not in fixed point,
// the spin was off by 2e-4.
TEST_CASE("packs follow the scalar kernel for 100 steps") {
  struct Flight {
    std::string name;
    scenario::Scenario scenario;
    Difference most;
  };
  const Flight flights[] = {{"plain air", plain_air(), {1e-5, 1e-5, 3e-5, 1e-5}},
                            {"demo", demo(), {1e-5, 5e-5, 8e-5, 6e-5}},
                            {"one of each", one_of_each(), {6e-5, 1e-4, 3e-4, 1.2e-4}}};
  for (const Flight& flight : flights) {
    const Plan plan = short_flight(flight.scenario, 100);
    for (const InstructionSet set : available_instruction_sets()) {
      if (set == InstructionSet::scalar) continue;
      const auto all = differences(plan, set, 100);
      const auto check = [&](const std::string& what, double Difference::*of) {
        INFO(flight.name << ", " << std::string(name(set)) << ", " << what);
        CHECK(quantile(all, of, 1.0) <= flight.most.*of);
      };
      check("place", &Difference::place);
      check("velocity", &Difference::velocity);
      check("spin", &Difference::spin);
      check("axis", &Difference::axis);
      CHECK(quantile(all, &Difference::place, 0.9) <= 1e-5);
      if (plan.designs.size() == 1) CHECK(quantile(all, &Difference::velocity, 0.9) <= 1e-5);
    }
  }
}
