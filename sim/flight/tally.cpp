#include "sim/flight/tally.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include "models/error.hpp"
#include "models/light/flash.hpp"

namespace driftglow::flight {
namespace {

// Places that a tag's recent history holds.
const std::size_t window = static_cast<std::size_t>(std::lround(pinned_window / pinned_interval));

}  // namespace

const char* words(Loss loss) {
  switch (loss) {
    case Loss::not_finite:
      return "has a state that is no longer a finite number";
    case Loss::outside:
      return "is outside the vessel";
    case Loss::too_fast:
      return "moves faster than sound";
  }
  throw LogicError("no such loss");
}

int spell_bin(double length) {
  // A length on a bin's edge, up to rounding, belongs to the bin that begins there.
  const int bin = static_cast<int>(std::floor(8.0 * std::log10(length / spell_first) + 1e-9));
  return std::clamp(bin, 0, spell_bins - 1);
}

double spell_bin_start(int bin) {
  return spell_first * std::pow(10.0, bin / 8.0);
}

void SpellTally::change(std::int64_t step, double current_sum, double dt, FitCounts& counts) {
  const std::int64_t length = step - since_;
  const bool whole = since_ > 0;
  const double duration = static_cast<double>(length) * dt;
  if (lit_) {
    on_steps_ += length;
    if (whole) {
      ++counts.whole_on;
      counts.whole_on_steps += length;
      ++counts.on_spells[spell_bin(duration)];
      counts.effective_current_sum += light::effective_intensity((current_sum - sum_since_) * dt, duration);
    }
  } else {
    counts.flashes += step > 0;
    if (whole) {
      ++counts.whole_off;
      counts.whole_off_steps += length;
      ++counts.off_spells[spell_bin(duration)];
    }
  }
  lit_ = !lit_;
  since_ = step;
  sum_since_ = current_sum;
}

void SpellTally::end(std::int64_t steps) {
  if (lit_) on_steps_ += steps - since_;
}

void VesselTally::change(std::int64_t step, int by) {
  lit_at_once_[lit_] += step - since_;
  since_ = step;
  if (lit_ == 0) longest_dark_ = std::max(longest_dark_, step - dark_since_);
  lit_ += by;
  if (by < 0 && lit_ == 0) dark_since_ = step;
}

GlowTally::GlowTally(const Plan& plan, int lanes) : plan_(plan), lanes_(lanes) {
  int counts = 0;
  for (const DesignPlan& design : plan.designs) {
    first_slot_.push_back(static_cast<int>(slots_.size()));
    first_counts_.push_back(counts);
    for (int i = 0; i < design.count; ++i) {
      for (int s = 0; s < design.slot_count(); ++s) slots_.push_back({counts + s, design.carried[i] == s});
    }
    counts += design.slot_count();
  }
  spells_.resize(slots_.size() * lanes);
  current_sums_.resize(slots_.size() * lanes, 0.0);
  counts_.resize(static_cast<std::size_t>(counts) * lanes);
  vessels_.resize(lanes, VesselTally(plan.tags));
  lost_.resize(static_cast<std::size_t>(plan.tags) * lanes, std::numeric_limits<std::int64_t>::max());
}

template <class Real>
void GlowTally::change(int slot, std::int64_t step, std::uint32_t lanes, const Real* unsaved) {
  for (std::uint32_t left = lanes; left != 0; left &= left - 1) {
    const int lane = std::countr_zero(left);
    SpellTally& spells = spells_[at(slot, lane)];
    if (slots_[slot].carried) vessels_[lane].change(step, spells.lit() ? -1 : 1);
    spells.change(step, current_sums_[at(slot, lane)] + static_cast<double>(unsaved[lane]), plan_.clock.step,
                  counts_[at(slots_[slot].counts, lane)]);
  }
}
template void GlowTally::change(int, std::int64_t, std::uint32_t, const float*);
template void GlowTally::change(int, std::int64_t, std::uint32_t, const double*);

void GlowTally::over_rating(int slot, std::uint32_t lanes) {
  for (std::uint32_t left = lanes; left != 0; left &= left - 1) {
    ++counts_[at(slots_[slot].counts, std::countr_zero(left))].over_rating_steps;
  }
}

template <class Real>
void GlowTally::save(Real* unsaved) {
  for (std::size_t i = 0; i < current_sums_.size(); ++i) {
    current_sums_[i] += static_cast<double>(unsaved[i]);
    unsaved[i] = 0;
  }
}
template void GlowTally::save(float*);
template void GlowTally::save(double*);

void GlowTally::end(std::int64_t steps) {
  steps_ = steps;
  for (SpellTally& spells : spells_) spells.end(steps);
  for (VesselTally& vessel : vessels_) vessel.end(steps);
}

double GlowTally::tag_steps(int lane, int design) const {
  const DesignPlan& d = plan_.designs[design];
  double sum = 0.0;
  for (int i = 0; i < d.count; ++i) sum += steps_of(d.first_tag + i, lane);
  return sum;
}

FitResult GlowTally::fit_result(int lane, int design, int fit) const {
  const DesignPlan& d = plan_.designs[design];
  const FitCounts& counts = counts_[at(first_counts_[design] + fit, lane)];
  const double steps = static_cast<double>(steps_), dt = plan_.clock.step;
  // As many as were there on average: a lost tag counts as long as it was flown.
  const double tags = tag_steps(lane, design) / steps;
  FitResult result{};
  for (int i = 0; i < d.count; ++i) {
    const std::size_t slot = at(first_slot_[design] + i * d.slot_count() + fit, lane);
    const auto on = static_cast<double>(spells_[slot].on_steps());
    result.tag_duty.push_back(on / steps_of(d.first_tag + i, lane));
    result.duty += on / steps / tags;
  }
  double effective_sum = 0.0;  // cd
  const auto add_emitter = [&](int slot_of_tag, double intensity_per_current) {
    double current = 0.0;
    for (int i = 0; i < d.count; ++i)
      current +=
          current_sums_[at(first_slot_[design] + i * d.slot_count() + slot_of_tag, lane)] / steps / tags;
    result.mean_current += current;
    result.emitter_intensity.push_back(current * intensity_per_current);
    result.mean_intensity += result.emitter_intensity.back();
    // Blondel and Rey's intensity is linear in the light at a given length of the flash.
    effective_sum +=
        counts_[at(first_counts_[design] + slot_of_tag, lane)].effective_current_sum * intensity_per_current;
  };
  // A plain threshold gives no light.
  add_emitter(fit, d.leds.empty() ? 0.0 : d.leds[fit].intensity_per_current);
  if (const auto second = d.second_slot(fit))
    add_emitter(*second, d.leds[fit].antiparallel.value().intensity_per_current);
  const auto mean_spell = [&](std::int64_t length, std::int64_t count) {
    return count > 0 ? static_cast<double>(length) * dt / static_cast<double>(count)
                     : std::numeric_limits<double>::quiet_NaN();
  };
  result.flashes_per_minute = static_cast<double>(counts.flashes) / (steps * dt / 60.0) / tags;
  result.over_rating = static_cast<double>(counts.over_rating_steps) / steps / tags;
  result.mean_on_spell = mean_spell(counts.whole_on_steps, counts.whole_on);
  result.mean_off_spell = mean_spell(counts.whole_off_steps, counts.whole_off);
  result.effective_intensity = counts.whole_on > 0 ? effective_sum / static_cast<double>(counts.whole_on)
                                                   : std::numeric_limits<double>::quiet_NaN();
  result.on_spells = counts.on_spells;
  result.off_spells = counts.off_spells;
  return result;
}

VesselResult GlowTally::vessel_result(int lane) const {
  VesselResult result{vessels_[lane].lit_at_once(),
                      static_cast<double>(vessels_[lane].longest_dark()) * plan_.clock.step,
                      std::vector<double>(plan_.colours.size(), 0.0)};
  for (std::size_t d = 0; d < plan_.designs.size(); ++d) {
    const DesignPlan& design = plan_.designs[d];
    if (design.leds.empty()) continue;
    for (int i = 0; i < design.count; ++i) {
      const LedPlan& led = design.leds[design.carried[i]];
      const double steps = steps_of(design.first_tag + i, lane);
      if (steps == 0.0) continue;
      const auto add = [&](const std::string& name, int slot, double intensity_per_current) {
        const auto colour =
            std::find(plan_.colours.begin(), plan_.colours.end(), name) - plan_.colours.begin();
        result.colour_intensity[colour] +=
            current_sums_[at(first_slot_[d] + i * design.slot_count() + slot, lane)] / steps *
            intensity_per_current;
      };
      add(led.colour, design.carried[i], led.intensity_per_current);
      if (const auto& second = led.antiparallel)
        add(second->colour, design.second_slot(design.carried[i]).value(), second->intensity_per_current);
    }
  }
  return result;
}

PlaceTally::PlaceTally(const Plan& plan, const DesignPlan& design)
    : plan_(plan),
      design_(design),
      recent_(design.count),
      visits_(place_r_bins * place_z_bins, 0),
      lit_(design.fits.size(), visits_) {}

void PlaceTally::place(const numeric::Vec3<double>& p, double speed, std::uint32_t lit) {
  const double r = numeric::square_root(p.x * p.x + p.y * p.y);
  const int i = std::clamp(static_cast<int>(r / plan_.vessel.widest() * place_r_bins), 0, place_r_bins - 1);
  const int j = std::clamp(static_cast<int>(p.z / plan_.vessel.height * place_z_bins), 0, place_z_bins - 1);
  const int bin = i * place_z_bins + j;
  ++visits_[bin];
  for (std::size_t f = 0; f < lit_.size(); ++f) lit_[f][bin] += (lit >> f) & 1U;
  ++samples_;
  speed_sum_ += speed;
  height_sum_ += p.z;
}

void PlaceTally::remember(int i, const numeric::Vec3<double>& p) {
  Recent& recent = recent_[i];
  if (recent.places.size() < window) {
    recent.places.push_back(p);
    return;
  }
  recent.places[recent.next] = p;
  recent.next = (recent.next + 1) % window;
}

void PlaceTally::rest(int i, const numeric::Vec3<double>& p, const motion::Gaps<double>& gap) {
  const Recent& recent = recent_[i];
  const double near = motion::touch_gap_over_radius * design_.body.radius;
  const bool complete = recent.places.size() == window;
  ++touching_samples_;
  rest_samples_ += complete;
  // A tag in an edge counts for the first surface it touches.
  const auto* touched =
      std::find_if(std::begin(gap.of), std::end(gap.of), [&](double g) { return g <= near; });
  if (touched == std::end(gap.of)) return;
  ++touching_;
  const bool still = complete && std::all_of(recent.places.begin(), recent.places.end(), [&](const auto& q) {
                       return numeric::norm(p - q) < design_.body.radius;
                     });
  if (still) ++pinned_[touched - std::begin(gap.of)];
}

void PlaceTally::write(DesignResult& result) const {
  const auto share = [](double part, std::int64_t whole) {
    return whole > 0 ? part / static_cast<double>(whole) : std::numeric_limits<double>::quiet_NaN();
  };
  for (int s = 0; s < motion::surfaces; ++s)
    result.pinned[s] = share(static_cast<double>(pinned_[s]), rest_samples_);
  result.touching = share(static_cast<double>(touching_), touching_samples_);
  result.mean_speed = share(speed_sum_, samples_);
  result.mean_height = share(height_sum_, samples_);
  result.visits = visits_;
  for (std::size_t f = 0; f < lit_.size(); ++f) result.fits[f].lit_by_place = lit_[f];
}

}  // namespace driftglow::flight
