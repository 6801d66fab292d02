#pragma once

#include <Eigen/Core>
#include <complex>
#include <cstddef>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "models/coupling/coupled_tags.hpp"
#include "sim/flight/plan.hpp"
#include "sim/flight/start.hpp"

namespace driftglow::flight {

// Coupled are the free solid tags with a circuit: held tags and tracers may stand in one another.
bool couples(const DesignPlan& design);
CouplingPlan coupling_plan(const Plan& plan);

// The tags of one vessel coupled to each other (coupling/coupled_tags.hpp). Each fit of a design is a vessel
// of its own, in which all tags of the design carry that fit and those of other designs what their mix gives
// them; the totals of light and the number lit at once take each tag from the vessel of the fit that it
// carries, as if its neighbours of the same design carried that too.
class CoupledVessel {
 public:
  // `tags` and `drive` of this vessel; plan.coupling is there.
  CoupledVessel(const Plan& plan, const std::vector<StartedTag>& tags, const DriveDraw& drive);

  struct Tag {
    coupling::Pose pose;
    std::complex<double> linkage;  // Wb, of the drive's field: in phase and a quarter period later
  };
  // The squared amplitude of the linkage [Wb2] that gives each slot the EMF that its tag sees, for all tags.
  // Goes on from the last call's currents. Where a fit's tags find no common solution to `tolerance` they are
  // taken as uncoupled, and the answer is false.
  bool see(std::span<const Tag> tags, std::span<double> seen_squared);

  static constexpr double tolerance = 1e-4;  // 1, of the largest EMF seen

 private:
  struct Member {
    int tag, design;
    std::vector<std::pair<int, double>> neighbours;  // member, mutual inductance [H]
  };
  // All members with their currents under one fit of one design.
  struct Population {
    int design, fit;
    std::optional<int> second_slot;  // of the fit
    std::vector<const coupling::TagImpedance*> impedance;
    std::vector<std::complex<double>> current;  // A peak
  };
  void link(std::span<const Tag> tags);
  bool relax(Population& population);
  bool solve(Population& population);

  double emf_per_linkage_, omega_, reach_;
  std::vector<std::size_t> first_slot_;   // of a tag
  std::vector<int> slots_;                // of a tag
  std::vector<coil::FluxMoments> coils_;  // of the members, as what follows
  std::vector<Member> members_;
  std::vector<std::vector<coupling::TagImpedance>> impedances_;  // [member][fit]
  std::vector<Population> populations_;
  std::vector<std::complex<double>> emf_, seen_;
  coupling::CoupledTags all_;
  Eigen::MatrixXd mutual_;
};

}  // namespace driftglow::flight
