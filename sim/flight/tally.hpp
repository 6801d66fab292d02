#pragma once

#include <algorithm>
#include <vector>

#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"

namespace driftglow::flight {

// What the fits of all tags of a design add up to in one lane.
struct FitCounts {
  std::int64_t flashes = 0;                  // off -> on
  std::int64_t whole_on = 0, whole_off = 0;  // spells
  std::int64_t whole_on_steps = 0, whole_off_steps = 0;
  std::int64_t over_rating_steps = 0;
  double effective_current_sum = 0.0;  // A, over whole flashes (Blondel-Rey of the current)
  SpellCounts on_spells{}, off_spells{};
};

// On and off spells of one fit of one tag. Spells cut by the begin or the end of the flight are not whole and
// only count as time. Told of changes alone: between them nothing is to be done.
class SpellTally {
 public:
  // The tag comes on or goes off at `step`, dt [s] the length of a step; current_sum: sum of its LED current
  // over the steps before [A]. Off before the first step: coming on at step 0 is no flash.
  void change(std::int64_t step, double current_sum, double dt, FitCounts& counts);
  // To be called once, at the number of steps flown.
  void end(std::int64_t steps);
  bool lit() const { return lit_; }
  std::int64_t on_steps() const { return on_steps_; }

 private:
  bool lit_ = false;
  std::int64_t since_ = 0, on_steps_ = 0;
  double sum_since_ = 0.0;
};

// How many tags of a vessel are lit at once.
class VesselTally {
 public:
  explicit VesselTally(int tags) : lit_at_once_(tags + 1, 0) {}
  // One tag more (+1) or less (-1) is lit from `step` on. All are dark before step 0.
  void change(std::int64_t step, int by);
  void end(std::int64_t steps) { change(steps, 0); }
  const std::vector<std::int64_t>& lit_at_once() const { return lit_at_once_; }
  std::int64_t longest_dark() const { return longest_dark_; }  // steps

 private:
  int lit_ = 0;
  std::int64_t since_ = 0, dark_since_ = 0, longest_dark_ = 0;
  std::vector<std::int64_t> lit_at_once_;
};

// Everything about glow, for vessels flown side by side. Slots and lanes: arrays.hpp.
class GlowTally {
 public:
  GlowTally(const Plan& plan, int lanes);

  // What the step reports: bit l of `lanes` for lane l. unsaved: current sums of the slot since save().
  template <class Real>
  void change(int slot, std::int64_t step, std::uint32_t lanes, const Real* unsaved);
  void over_rating(int slot, std::uint32_t lanes);

  // Takes over the current sums of all slots and sets them to zero, before they lose digits.
  template <class Real>
  void save(Real* unsaved);

  // The tag has been flown for `steps` only: that is the time its shares are of.
  void lose(int tag, int lane, std::int64_t steps) { lost_[tag_at(tag, lane)] = steps; }

  void end(std::int64_t steps);

  // Time over which the design's tags were flown, in steps of one tag; after end().
  double tag_steps(int lane, int design) const;

  // A, sum of the slot's LED current over the steps, as of the last save().
  double current_sum(int slot, int lane) const { return current_sums_[at(slot, lane)]; }

  // After end().
  FitResult fit_result(int lane, int design, int fit) const;
  VesselResult vessel_result(int lane) const;

 private:
  struct Slot {
    int counts;    // number in a row of all designs' slots
    bool carried;  // as a fit; a pair's second LED comes on with the first and is not told twice
  };
  std::size_t at(int slot, int lane) const { return static_cast<std::size_t>(slot) * lanes_ + lane; }
  std::size_t tag_at(int tag, int lane) const { return static_cast<std::size_t>(tag) * lanes_ + lane; }
  double steps_of(int tag, int lane) const {
    return static_cast<double>(std::min(lost_[tag_at(tag, lane)], steps_));
  }

  const Plan& plan_;
  int lanes_;
  std::int64_t steps_ = 0;
  std::vector<Slot> slots_;
  std::vector<int> first_slot_, first_counts_;  // of a design
  std::vector<SpellTally> spells_;              // [slot][lane]
  std::vector<double> current_sums_;            // A, [slot][lane]
  std::vector<FitCounts> counts_;               // [slot of a design][lane]
  std::vector<VesselTally> vessels_;            // [lane]
  std::vector<std::int64_t> lost_;              // [tag][lane], steps flown; the largest number: not lost
};

// Where the tags of a design are in one lane and whether they are stuck.
class PlaceTally {
 public:
  PlaceTally(const Plan& plan, const DesignPlan& design);

  // Sampled every place_interval; bit f of `lit`: lit under fit f.
  void place(const numeric::Vec3<double>& p, double speed, std::uint32_t lit);
  // Where tag i of the design is, every pinned_interval, from pinned_window before the end of warm-up on.
  void remember(int i, const numeric::Vec3<double>& p);
  // Counts it too; to be followed by remember(). Without a whole window behind it a sample does not count as
  // pinned or not.
  void rest(int i, const numeric::Vec3<double>& p, const motion::Gaps<double>& gap);
  void write(DesignResult& result) const;

 private:
  const Plan& plan_;
  const DesignPlan& design_;
  struct Recent {
    std::vector<numeric::Vec3<double>> places;  // ring of the last pinned_window
    std::size_t next = 0;
  };
  std::vector<Recent> recent_;
  std::int64_t samples_ = 0, rest_samples_ = 0, touching_samples_ = 0, touching_ = 0;
  std::array<std::int64_t, motion::surfaces> pinned_{};
  double speed_sum_ = 0.0, height_sum_ = 0.0;
  std::vector<std::int64_t> visits_;
  std::vector<std::vector<std::int64_t>> lit_;
};

}  // namespace driftglow::flight
