#pragma once

#include <boost/align/aligned_allocator.hpp>
#include <functional>
#include <optional>
#include <vector>

#include "sim/flight/coupled_vessel.hpp"
#include "sim/flight/kernel.hpp"
#include "sim/flight/start.hpp"
#include "sim/flight/tally.hpp"

namespace driftglow::flight {

// Vessels flown side by side: their memory, the order of the stages and what is sampled between the steps.
// Lanes beyond the wanted replicates fly the last one again and are dropped.
template <class Real>
class VesselBlock {
 public:
  VesselBlock(const Plan& plan, const Kernel<Real>& kernel, int first, int count);

  // stepped, where given: called after every step, counted from the end of warm-up.
  void fly(const std::function<void(std::int64_t tag_steps)>& flown,
           const std::function<void(std::int64_t step)>& stepped = {});
  std::vector<ReplicateResult> results() const;
  // Why a tag's path cannot be believed any more, as it stands.
  std::optional<Loss> loss(int tag, int lane) const;

  // One stage of step `step`, counted from the end of warm-up.
  void run(Stage stage, std::int64_t step) { kernel_.stage[stage](plan_, arrays_, step); }

  // Number `number` (StateNumber) of a tag's state in a lane.
  double state(int tag, int number, int lane) const {
    return static_cast<double>(
        state_[(static_cast<std::size_t>(tag) * state_numbers + number) * kernel_.lanes + lane]);
  }
  // Wb or T, squared, as seen in the last step after warm-up.
  double linkage_squared(int tag, int lane) const {
    return static_cast<double>(linkage_squared_[static_cast<std::size_t>(tag) * kernel_.lanes + lane]);
  }
  // Bit f: lit under fit f of its design.
  std::uint32_t lit(int tag, int lane) const;

 private:
  // Registers of the packs and cache lines begin at multiples of 64 bytes.
  template <class T>
  using Lines = std::vector<T, boost::alignment::aligned_allocator<T, 64>>;

  void start(int lane, int replicate);
  void move(std::int64_t step);
  void glow(std::int64_t step);
  void couple();
  void warm_up();
  void sample(std::int64_t step);
  void remember();
  void meter();
  void record(std::int64_t step);
  void look_for_lost(std::int64_t steps);
  bool suspicious(int tag) const;
  bool is_lost(int tag, int lane) const;
  void drop_lost_light();

  numeric::Vec3<double> vector(int tag, int number, int lane) const {
    return {state(tag, number, lane), state(tag, number + 1, lane), state(tag, number + 2, lane)};
  }
  template <class Use>
  void each_tag(const Use& use) const;  // use(design number, tag of the design, tag, its first slot)

  const Plan& plan_;
  const Kernel<Real>& kernel_;
  int first_, count_;
  Lines<Real> state_, kicks_, air_, linkage_squared_, on_, over_, table_, current_sum_;
  Lines<std::uint64_t> stream_state_, stream_increment_;
  std::vector<double> nodes_per_linkage_;
  std::vector<std::uint32_t> lit_;
  GlowTally glow_;
  std::vector<std::vector<PlaceTally>> places_;  // [design][lane]
  struct Gone {
    int lane, slot, slots;  // those of the tag
    LostTag tag;
  };
  std::vector<Gone> gone_;
  struct Meter {
    ReplicateDrive drive;
    TagPower sum;  // over the samples
  };
  std::vector<Meter> meters_;          // [lane]
  std::int64_t metered_ = 0;           // samples
  std::vector<Trace> traces_;          // [lane], of recorded replicates
  std::vector<double> recorded_sums_;  // A, [lane][slot], current sums at their last sample
  // With coupled tags.
  Lines<Real> linkage_parts_, seen_squared_;
  std::vector<CoupledVessel> coupled_;  // [lane]
  std::vector<CoupledVessel::Tag> poses_;
  std::vector<double> seen_;
  std::vector<std::int64_t> uncoupled_steps_;  // [lane]
  // Steps in which a fit's tags would be lit without coupling, all together.
  std::vector<std::vector<std::int64_t>> direct_on_steps_;  // [design][fit of it x lanes + lane]
  FlightArrays<Real> arrays_;
};

extern template class VesselBlock<double>;
extern template class VesselBlock<float>;

}  // namespace driftglow::flight
