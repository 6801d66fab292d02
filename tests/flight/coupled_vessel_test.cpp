#include "sim/flight/coupled_vessel.hpp"

#include <doctest/doctest.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <complex>
#include <span>
#include <vector>

#include "models/receiver/glow_curve.hpp"
#include "tests/flight/plans.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::flight;
using Complex = std::complex<double>;

namespace {

scenario::Scenario coupled_demo(int count) {
  auto scenario = demo();
  scenario.flight.coupling = scenario::Coupling::on;
  auto& tag = scenario.tags.front();
  tag.count = count;
  tag.mix = {{tag.fits[0], count / 2}, {tag.fits[1], count - count / 2}};
  return scenario;
}

struct Vessel {
  Plan plan;
  std::vector<StartedTag> tags;
  std::vector<CoupledVessel::Tag> poses;
};

// The started places, drawn together about the middle by `squeeze`, with EMFs of up to the plan's largest.
Vessel vessel_of(const scenario::Scenario& scenario, double squeeze) {
  Vessel vessel{short_flight(scenario, 1), {}, {}};
  vessel.tags = start_vessel(vessel.plan, 3, built_drive(vessel.plan, 3).draw);
  const Eigen::Vector3d middle(0.0, 0.0, 0.16);
  pcg32 stream = random_stream(9, 0, 0, Purpose::start);
  for (const auto& tag : vessel.tags) {
    const auto &p = tag.state.move.p_W, &n = tag.state.n_W;
    const Eigen::Vector3d place(p.x, p.y, p.z);
    const double size = vessel.plan.designs.front().linkage_max * (0.1 + 0.5 * uniform(stream));
    const double angle = 6.283 * uniform(stream);
    vessel.poses.push_back({{middle + squeeze * (place - middle), {n.x, n.y, n.z}},
                            {size * std::cos(angle), size * std::sin(angle)}});
  }
  return vessel;
}

receiver::TankDesign built(const Vessel& vessel, int tag, int fit) {
  const DesignPlan& design = vessel.plan.designs.front();
  return receiver::built_design(nominal_tank(*design.tank, design.leds[fit]),
                                vessel.tags[tag].fits[fit].offset);
}

// Diagonal Z of the EMFs seen, all mutual inductances within the reach; dense LU. Returns Z I.
std::vector<double> dense(const Vessel& vessel, const std::vector<coupling::TagImpedance>& impedances,
                          std::span<const double> seen_emf) {
  const int n = static_cast<int>(vessel.poses.size());
  const double omega = vessel.plan.omega;
  const auto& moments = vessel.plan.designs.front().moments;
  Eigen::MatrixXcd matrix(n, n);
  Eigen::VectorXcd emf(n);
  for (int i = 0; i < n; ++i) {
    emf[i] = omega * vessel.poses[i].linkage;
    for (int j = 0; j < n; ++j) {
      const bool near =
          (vessel.poses[i].pose.centre - vessel.poses[j].pose.centre).norm() <= vessel.plan.coupling->reach;
      const double M = near && i != j ? coupling::pair_mutual_inductance(moments, vessel.poses[i].pose,
                                                                         moments, vessel.poses[j].pose)
                                      : 0.0;
      matrix(i, j) = i == j ? impedances[i].at(seen_emf[i]) : Complex(0.0, omega * M);
    }
  }
  const Eigen::VectorXcd current = matrix.fullPivLu().solve(emf);
  std::vector<double> result;
  for (int i = 0; i < n; ++i) result.push_back(std::abs(matrix(i, i) * current[i]));
  return result;
}

}  // namespace

// What the flight takes as the EMF seen must solve the dense N x N system with the impedances that these EMFs
// give. The flight stops at a change of 1e-4 of the largest EMF; where a step takes off a half or more of
// what is left, the rest is no more than twice that, and the solver's own impedances follow. With each tag's
// own glow curve instead of the shared LED's describing function: 2 % of Z (tag_impedance.hpp), a tenth of
// which reaches the EMF where neighbours move it by a fifth at most.
TEST_CASE("coupled tags see what a dense solution of the N x N system gives") {
  const Outside outside("dense N x N system");
  const auto vessel = vessel_of(coupled_demo(12), 0.55);
  const auto& plan = vessel.plan;
  const DesignPlan& design = plan.designs.front();
  CoupledVessel coupled(plan, vessel.tags, {});
  std::vector<double> seen(vessel.poses.size() * 2);
  REQUIRE(coupled.see(vessel.poses, seen));
  double moved = 0.0, worst = 0.0, worst_own = 0.0;
  for (int fit = 0; fit < 2; ++fit) {
    std::vector<coupling::TagImpedance> shared, own;
    std::vector<double> emf;
    double largest = 0.0;
    for (int tag = 0; tag < static_cast<int>(vessel.poses.size()); ++tag) {
      const double emf_max = plan.omega * design.linkage_max;
      const auto& offset = vessel.tags[tag].fits[fit].offset;
      shared.emplace_back(plan.coupling->leds[0][fit], built(vessel, tag, fit), offset.led_voltage,
                          plan.omega, emf_max, 128);
      own.emplace_back(receiver::solve_glow_curve(built(vessel, tag, fit), plan.omega, emf_max));
      emf.push_back(plan.omega * std::sqrt(seen[2 * tag + fit]));
      largest = std::max(largest, emf.back());
    }
    const auto exact = dense(vessel, shared, emf), by_own = dense(vessel, own, emf);
    for (std::size_t tag = 0; tag < emf.size(); ++tag) {
      worst = std::max(worst, std::fabs(exact[tag] - emf[tag]) / largest);
      worst_own = std::max(worst_own, std::fabs(by_own[tag] - emf[tag]) / largest);
      moved = std::max(moved, std::fabs(emf[tag] / (plan.omega * std::abs(vessel.poses[tag].linkage)) - 1.0));
    }
  }
  MESSAGE("EMF moved by up to " << moved << "; off the dense solution " << worst
                                << " of the largest, with own curves " << worst_own);
  CHECK(moved > 0.05);  // or nothing would be tested
  outside.below("EMF seen by coupled tags in flight, error of the largest", worst, 3e-4);
  CHECK(worst_own <= 2e-3);
}

// Drawn so that the slow way, the factorisation, is the one that finds it.
TEST_CASE("closely packed tags are solved too") {
  const Outside outside("dense N x N system");
  const auto vessel = vessel_of(coupled_demo(12), 0.3);
  CoupledVessel coupled(vessel.plan, vessel.tags, {});
  std::vector<double> seen(vessel.poses.size() * 2);
  if (coupled.see(vessel.poses, seen)) {
    std::vector<coupling::TagImpedance> shared;
    std::vector<double> emf;
    const DesignPlan& design = vessel.plan.designs.front();
    for (int tag = 0; tag < static_cast<int>(vessel.poses.size()); ++tag) {
      shared.emplace_back(vessel.plan.coupling->leds[0][0], built(vessel, tag, 0),
                          vessel.tags[tag].fits[0].offset.led_voltage, vessel.plan.omega,
                          vessel.plan.omega * design.linkage_max, 128);
      emf.push_back(vessel.plan.omega * std::sqrt(seen[2 * tag]));
    }
    const auto exact = dense(vessel, shared, emf);
    const double largest = *std::max_element(emf.begin(), emf.end());
    for (std::size_t tag = 0; tag < emf.size(); ++tag)
      outside.near("EMF seen by closely packed tags [V]", exact[tag], emf[tag], 1e-3 * largest);
  }
}

// Coils in line at the reach move each other's EMF by 2 % at most (least_coupling), so what is cut off is
// less; beyond it a tag sees the drive's field alone.
TEST_CASE("the reach of the coupling") {
  auto vessel = vessel_of(coupled_demo(2), 1.0);
  const double reach = vessel.plan.coupling->reach;
  CHECK(reach > 2.0 * vessel.plan.designs.front().body.radius);
  const auto ratio = [&](double distance) {
    for (int tag = 0; tag < 2; ++tag) {
      vessel.poses[tag].pose = {{0.0, 0.0, tag * distance}, {0.0, 0.0, 1.0}};
      // Far below the knee, where the tank takes most.
      vessel.poses[tag].linkage = 0.05 * vessel.plan.designs.front().linkage_max;
    }
    CoupledVessel coupled(vessel.plan, vessel.tags, {});
    std::vector<double> seen(4);
    REQUIRE(coupled.see(vessel.poses, seen));
    return std::sqrt(seen[0]) / std::abs(vessel.poses[0].linkage);
  };
  CHECK(ratio(1.001 * reach) == 1.0);
  const double inside = std::fabs(ratio(0.999 * reach) - 1.0);
  CHECK(inside > 0.002);
  CHECK(inside <= 0.022);
}

// Coils that lie in one another have no finite mutual inductance: no solution. The tags are then taken as
// uncoupled, and the next call starts afresh.
TEST_CASE("where there is no common solution the tags are taken as uncoupled") {
  auto vessel = vessel_of(coupled_demo(2), 1.0);
  const auto poses = vessel.poses;
  CoupledVessel coupled(vessel.plan, vessel.tags, {}), fresh(vessel.plan, vessel.tags, {});
  std::vector<double> seen(4), expected(4);
  for (auto& tag : vessel.poses) tag.pose = {{0.0, 0.0, 0.16}, {0.0, 0.0, 1.0}};
  CHECK_FALSE(coupled.see(vessel.poses, seen));
  for (int slot = 0; slot < 4; ++slot) CHECK(seen[slot] == std::norm(vessel.poses[slot / 2].linkage));
  CHECK(coupled.see(poses, seen));
  CHECK(fresh.see(poses, expected));
  CHECK(seen == expected);
}

// A pair's two slots see the same EMF; equal LEDs fill both half waves.
TEST_CASE("pairs couple as well") {
  auto scenario = with_pairs(demo());
  scenario.flight.coupling = scenario::Coupling::on;
  const auto vessel = vessel_of(scenario, 0.55);
  const int slots = vessel.plan.designs.front().slot_count();
  CHECK(slots == 6);
  CoupledVessel coupled(vessel.plan, vessel.tags, {});
  std::vector<double> seen(vessel.poses.size() * static_cast<std::size_t>(slots));
  REQUIRE(coupled.see(vessel.poses, seen));
  double moved = 0.0;
  for (std::size_t tag = 0; tag < vessel.poses.size(); ++tag) {
    const double* own = &seen[tag * static_cast<std::size_t>(slots)];
    CHECK(own[4] == own[2]);
    CHECK(own[5] == own[3]);
    moved = std::max(moved, std::fabs(std::sqrt(own[3]) / std::abs(vessel.poses[tag].linkage) - 1.0));
  }
  CHECK(moved > 0.05);
}
