#include "sim/flight/built_tag.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "models/error.hpp"

namespace driftglow::flight {
namespace {

double within(double tolerance, pcg32& stream) {
  return tolerance * (2.0 * uniform(stream) - 1.0);
}

// Offsets of one built tag, one for each fit: the coil and the capacitor are the same.
std::vector<receiver::BuiltOffset> drawn(const scenario::Tolerances& tolerances,
                                         const std::vector<LedPlan>& leds, pcg32& stream) {
  const double inductance = within(tolerances.inductance, stream);
  const double capacitance = within(tolerances.capacitance, stream);
  std::vector<receiver::BuiltOffset> offsets;
  for (const LedPlan& led : leds) {
    offsets.push_back({inductance, capacitance, within(tolerances.led_voltage, stream)});
    if (led.antiparallel) offsets.back().antiparallel_voltage = within(tolerances.led_voltage, stream);
  }
  return offsets;
}

// Of a junction's capacitance in the capacitor's.
double junction_share(const TankPlan& tank, const LedPlan& led) {
  return led.junction_capacitance / nominal_tank(tank, led).capacitance;
}

// A drive at (1 + e) omega is to a tag like L and C larger by that at the old one; the LED has no memory. The
// resistance is kept.
receiver::BuiltOffset at_drive(const receiver::BuiltOffset& offset, double frequency, const TankPlan& tank,
                               const LedPlan& led) {
  if (frequency == 1.0) return offset;
  const double junction = junction_share(tank, led);
  return {(1.0 + offset.inductance) * frequency - 1.0,
          (1.0 + offset.capacitance) * frequency - 1.0 + (frequency - 1.0) * junction, offset.led_voltage,
          offset.antiparallel_voltage};
}

double widened(double tolerance, const DriveSpan& span, double junction) {
  return std::max((1.0 + tolerance) * span.frequency_high - 1.0 + (span.frequency_high - 1.0) * junction,
                  1.0 - (1.0 - tolerance) * span.frequency_low + (1.0 - span.frequency_low) * junction);
}

receiver::ToleranceBox box_of(const TankPlan& tank, const LedPlan& led, const DriveSpan& span) {
  receiver::ToleranceBox box{nominal_tank(tank, led), tank.tolerances.inductance, tank.tolerances.capacitance,
                             tank.tolerances.led_voltage};
  if (led.antiparallel) box.antiparallel_voltage = tank.tolerances.led_voltage;
  if (span.frequency_low == 1.0 && span.frequency_high == 1.0) return box;
  box.inductance = widened(box.inductance, span, 0.0);
  box.capacitance = widened(box.capacitance, span, junction_share(tank, led));
  return box;
}

receiver::GlowLimits limits_of(const LedPlan& led) {
  receiver::GlowLimits limits{led.on_mean_current, led.mean_current_rating, led.peak_current_rating,
                              led.reverse_voltage_rating};
  if (const auto& second = led.antiparallel)
    limits.second = {second->on_weight, second->mean_current_rating, second->peak_current_rating,
                     second->reverse_voltage_rating};
  return limits;
}

// omega: of the drive as computed; `drive`: what the linkage is multiplied by on the way to the EMF.
BuiltFit fit_of(double on_emf, double over_rating_emf, double omega, const DriveDraw& drive,
                CurrentTable current, const receiver::BuiltOffset& offset) {
  const double per_linkage = omega * drive.emf();
  const double on = on_emf / per_linkage, over = over_rating_emf / per_linkage;
  return {on * on, over * over, std::move(current), offset, {}};
}

template <class Current>
CurrentTable table_of(double linkage_max, double emf_max, const Current& current_at) {
  std::vector<double> current(CurrentTable::intervals + 1);
  for (int i = 0; i <= CurrentTable::intervals; ++i)
    current[i] = current_at(emf_max * i / CurrentTable::intervals);
  return {linkage_max, std::move(current)};
}

BuiltFit solved(const TankPlan& tank, const LedPlan& led, double omega, double linkage_max,
                const DriveDraw& drive, const receiver::BuiltOffset& offset) {
  const auto built =
      receiver::built_design(nominal_tank(tank, led), at_drive(offset, drive.frequency, tank, led));
  const double emf_max = omega * linkage_max * drive.emf();
  const auto curve = receiver::solve_glow_curve(built, omega, emf_max);
  auto fit = fit_of(
      curve.threshold_emf(led.on_mean_current, led.on_weights()), over_rating_emf(curve, led), omega, drive,
      table_of(linkage_max, emf_max, [&](double emf) { return curve.mean_current(emf); }), offset);
  if (led.antiparallel)
    fit.antiparallel_current =
        table_of(linkage_max, emf_max, [&](double emf) { return curve.mean_current_antiparallel(emf); });
  return fit;
}

}  // namespace

CurrentTable::CurrentTable(double linkage_max, std::vector<double> mean_current)
    : nodes_per_linkage_(intervals / linkage_max), mean_current_(std::move(mean_current)) {
  if (mean_current_.size() != intervals + 1) throw LogicError("current table: wrong number of nodes");
  double left = mean_current_[0], below = 0.0;
  for (int i = 1; i < intervals; ++i) {
    const double here = mean_current_[i];
    below = (left - 2.0 * here + mean_current_[i + 1]) / 12.0;
    mean_current_[i] = std::fmax(0.0, here - below);
    left = here;
  }
  mean_current_[intervals] = std::fmax(0.0, mean_current_[intervals] - below);
}

GlowFamilies::GlowFamilies(const TankPlan& tank, const std::vector<LedPlan>& leds, double omega,
                           double linkage_max, const DriveSpan& span)
    : tank_(tank), leds_(leds), omega_(omega), linkage_max_(linkage_max) {
  for (int i = 1; i <= CurrentTable::intervals; ++i) {
    log_emf_.push_back(std::log(omega * linkage_max * i / CurrentTable::intervals));
  }
  for (const LedPlan& led : leds) {
    families_.emplace_back(box_of(tank, led, span), limits_of(led), omega,
                           omega * linkage_max * span.emf_high);
  }
}

bool GlowFamilies::finished() const {
  return std::all_of(families_.begin(), families_.end(), [](const auto& f) { return f.finished(); });
}

std::size_t GlowFamilies::jobs() const {
  std::size_t jobs = 0;
  for (const auto& family : families_) jobs += family.jobs();
  return jobs;
}

void GlowFamilies::solve(std::size_t job) {
  auto family = families_.begin();
  for (; job >= family->jobs(); ++family) job -= family->jobs();
  family->solve(job);
}

void GlowFamilies::next_round() {
  for (auto& family : families_) {
    if (!family.finished()) family.next_round();
  }
}

std::vector<BuiltFit> GlowFamilies::build(pcg32& stream, const DriveDraw& drive) const {
  if (!finished()) throw LogicError("glow families: not solved yet");
  const auto offsets = drawn(tank_.tolerances, leds_, stream);
  std::vector<double> log_emf = log_emf_;
  for (double& value : log_emf) value += std::log(drive.emf());
  std::vector<BuiltFit> fits;
  for (std::size_t i = 0; i < leds_.size(); ++i) {
    const LedPlan& led = leds_[i];
    if (!families_[i].usable()) {
      fits.push_back(solved(tank_, led, omega_, linkage_max_, drive, offsets[i]));
      continue;
    }
    const auto curve = families_[i].at(at_drive(offsets[i], drive.frequency, tank_, led));
    std::vector<double> current(CurrentTable::intervals + 1), second(current);
    if (led.antiparallel) {
      for (int k = 1; k <= CurrentTable::intervals; ++k) {
        const auto both = curve.currents_at_log(log_emf[k - 1]);
        current[k] = both.first;
        second[k] = both.second;
      }
    } else {
      curve.mean_current_at_log(log_emf, std::span(current).subspan(1));
    }
    fits.push_back(fit_of(curve.on_emf(), curve.over_rating_emf(), omega_, drive,
                          CurrentTable(linkage_max_, std::move(current)), offsets[i]));
    if (led.antiparallel) fits.back().antiparallel_current = CurrentTable(linkage_max_, std::move(second));
  }
  return fits;
}

parallel::Outcome solve_all(std::span<GlowFamilies> designs, int threads, const std::stop_token& stop) {
  const auto unfinished = [](const GlowFamilies& design) { return !design.finished(); };
  while (std::any_of(designs.begin(), designs.end(), unfinished)) {
    std::vector<std::pair<GlowFamilies*, std::size_t>> jobs;
    for (GlowFamilies& design : designs) {
      for (std::size_t i = 0; i < design.jobs(); ++i) jobs.emplace_back(&design, i);
    }
    const auto outcome = parallel::run_blocks(
        jobs.size(), threads, [&](std::size_t i) { jobs[i].first->solve(jobs[i].second); }, stop);
    if (outcome == parallel::Outcome::stopped) return outcome;
    for (GlowFamilies& design : designs) design.next_round();
  }
  return parallel::Outcome::finished;
}

receiver::TankDesign nominal_tank(const TankPlan& tank, const LedPlan& led) {
  receiver::TankDesign design{
      tank.inductance,   tank.resistance,          tank.capacitance * led.remaining_capacitance,
      tank.loss_tangent, led.junction_capacitance, led.law};
  if (led.antiparallel) design.antiparallel = led.antiparallel->law;
  return design;
}

double over_rating_emf(const receiver::GlowCurve& curve, const LedPlan& led) {
  const auto over = [&](double emf) {
    const auto point = curve.at(emf);
    const auto& second = led.antiparallel;
    return point.mean_current > led.mean_current_rating || point.peak_current > led.peak_current_rating ||
           point.reverse_peak > led.reverse_voltage_rating ||
           (second && (point.mean_current_antiparallel > second->mean_current_rating ||
                       point.peak_current_antiparallel > second->peak_current_rating ||
                       point.forward_peak > second->reverse_voltage_rating));
  };
  double low = 0.0, high = curve.emf_max();
  if (!over(high)) return std::numeric_limits<double>::infinity();
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (over(middle) ? high : low) = middle;
  }
  return high;
}

std::vector<BuiltFit> build_tag(const TankPlan& tank, const std::vector<LedPlan>& leds, double omega,
                                double linkage_max, pcg32& stream, const DriveDraw& drive) {
  const auto offsets = drawn(tank.tolerances, leds, stream);
  std::vector<BuiltFit> fits;
  for (std::size_t i = 0; i < leds.size(); ++i) {
    fits.push_back(solved(tank, leds[i], omega, linkage_max, drive, offsets[i]));
  }
  return fits;
}

}  // namespace driftglow::flight
