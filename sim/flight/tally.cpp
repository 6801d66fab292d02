#include "sim/flight/tally.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/light/flash.hpp"

namespace driftglow::flight {
namespace {

// Places that a tag's recent history holds.
const std::size_t window = static_cast<std::size_t>(std::lround(pinned_window / pinned_interval));

}  // namespace

int spell_bin(double length) {
  // A length on a bin's edge, up to rounding, belongs to the bin that begins there.
  const int bin = static_cast<int>(std::floor(8.0 * std::log10(length / spell_first) + 1e-9));
  return std::clamp(bin, 0, spell_bins - 1);
}

double spell_bin_start(int bin) {
  return spell_first * std::pow(10.0, bin / 8.0);
}

void SpellTally::step(bool lit, double current, double dt) {
  const bool was_lit = phase_ == Phase::on || phase_ == Phase::first_on;
  if (phase_ == Phase::begin) {
    phase_ = lit ? Phase::first_on : Phase::first_off;
  } else if (lit != was_lit) {
    close(dt);
    phase_ = lit ? Phase::on : Phase::off;
    flashes += lit;
    length_ = 0;
    charge_ = 0.0;
  }
  ++length_;
  current_sum += current;
  if (!lit) return;
  ++on_steps;
  charge_ += current * dt;
}

void SpellTally::close(double dt) {
  const double duration = static_cast<double>(length_) * dt;
  if (phase_ == Phase::on) {
    ++whole_on;
    whole_on_steps += length_;
    ++on_spells[spell_bin(duration)];
    effective_current_sum += light::effective_intensity(charge_, duration);
  } else if (phase_ == Phase::off) {
    ++whole_off;
    whole_off_steps += length_;
    ++off_spells[spell_bin(duration)];
  }
}

PlaceTally::PlaceTally(const Plan& plan, const DesignPlan& design)
    : plan_(plan),
      design_(design),
      recent_(design.count),
      visits_(place_r_bins * place_z_bins, 0),
      lit_(design.fits.size(), visits_) {}

void PlaceTally::place(const numeric::Vec3<double>& p, double speed, const std::vector<std::uint8_t>& lit) {
  const double r = numeric::square_root(p.x * p.x + p.y * p.y);
  const int i = std::clamp(static_cast<int>(r / plan_.vessel.radius * place_r_bins), 0, place_r_bins - 1);
  const int j = std::clamp(static_cast<int>(p.z / plan_.vessel.height * place_z_bins), 0, place_z_bins - 1);
  const int bin = i * place_z_bins + j;
  ++visits_[bin];
  for (std::size_t f = 0; f < lit_.size(); ++f) lit_[f][bin] += lit[f];
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
  bool still = complete;
  for (const auto& q : recent.places) still = still && numeric::norm(p - q) < design_.body.radius;
  bool touches = false;
  for (int surface = 0; surface < motion::surfaces; ++surface) {
    if (gap.of[surface] > near) continue;
    // A tag in an edge counts for the first surface it touches.
    if (!touches && still) ++pinned_[surface];
    touches = true;
  }
  touching_ += touches;
  ++touching_samples_;
  rest_samples_ += complete;
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
