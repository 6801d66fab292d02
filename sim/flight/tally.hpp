#pragma once

#include <vector>

#include "sim/flight/plan.hpp"
#include "sim/flight/result.hpp"

namespace driftglow::flight {

// Counts on and off spells of one fit of one tag. Spells cut by the begin or the end of the flight are not
// whole and not counted.
class SpellTally {
 public:
  // current: mean LED current in this step [A].
  void step(bool lit, double current, double dt);

  std::int64_t on_steps = 0, over_rating_steps = 0;
  std::int64_t flashes = 0;                  // off -> on
  std::int64_t whole_on = 0, whole_off = 0;  // spells
  std::int64_t whole_on_steps = 0, whole_off_steps = 0;
  double current_sum = 0.0;            // A, over steps
  double effective_current_sum = 0.0;  // A, over whole flashes (Blondel-Rey of the current)
  SpellCounts on_spells{}, off_spells{};

 private:
  enum class Phase { begin, first_on, on, first_off, off };
  Phase phase_ = Phase::begin;
  std::int64_t length_ = 0;
  double charge_ = 0.0;  // A s, of the present flash
  void close(double dt);
};

// Where tags are and whether they are stuck.
class PlaceTally {
 public:
  PlaceTally(const Plan& plan, const DesignPlan& design);

  // Sampled every place_interval; lit[f] for each fit.
  void place(const numeric::Vec3<double>& p, double speed, const std::vector<std::uint8_t>& lit);
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
