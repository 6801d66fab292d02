#include "sim/flight/energy.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "models/driver/losses.hpp"

namespace driftglow::flight {
namespace {

// As fine as the tables of the current.
constexpr int intervals = 256;

}  // namespace

double Ledger::violation() const {
  double spent = 0.0;
  for (const auto& term : ledger_terms()) spent += this->*term.value;
  spent -= input;
  return input > 0.0 ? std::fabs(spent - input) / input : std::fabs(spent);
}

std::span<const LedgerTerm> ledger_terms() {
  static constexpr LedgerTerm terms[] = {
      {&Ledger::input, "input", "what the source gives"},
      {&Ledger::copper, "copper", "heat of the drive coils, harmonics included"},
      {&Ledger::metal, "metal", "heat of closed metal, and of coils of other circuits"},
      {&Ledger::capacitor, "capacitor", "heat of the drive's capacitor"},
      {&Ledger::switches, "switches", "conduction of the switches, or the drop of switch and choke"},
      {&Ledger::tag_coils, "tag_coils", "heat of the tags' coils"},
      {&Ledger::tag_capacitors, "tag_capacitors", "heat of the tags' capacitors"},
      {&Ledger::tag_leds, "tag_leds", "into the tags' LEDs, heat and light"},
  };
  return terms;
}

TagPower& TagPower::operator+=(const TagPower& more) {
  drawn += more.drawn;
  coil += more.coil;
  capacitor += more.capacitor;
  led += more.led;
  return *this;
}

PowerTable::PowerTable(const receiver::GlowCurve& curve, double emf_max)
    : nodes_per_emf_(intervals / emf_max) {
  for (int i = 0; i <= intervals; ++i) {
    const auto p = curve.at(i / nodes_per_emf_);
    nodes_.push_back({p.real_power, p.coil_loss, p.capacitor_loss, p.led_power});
  }
}

TagPower PowerTable::at(double emf_peak) const {
  const double x = std::min(emf_peak * nodes_per_emf_, static_cast<double>(intervals));
  const auto low = std::min(static_cast<std::size_t>(x), static_cast<std::size_t>(intervals - 1));
  const double part = x - static_cast<double>(low);
  TagPower sum = nodes_[low] * (1.0 - part);
  return sum += nodes_[low + 1] * part;
}

DrivePower& DrivePower::operator+=(const DrivePower& more) {
  source = more.source;
  input += more.input;
  copper += more.copper;
  metal += more.metal;
  capacitor += more.capacitor;
  switches += more.switches;
  input_per_drawn = more.input_per_drawn;
  return *this;
}

DrivePower DrivePower::at_current(double factor) const {
  const double square = factor * factor;
  return {source,         square * input,     square * copper,
          square * metal, square * capacitor, square * switches,
          input_per_drawn};
}

DrivePower drive_power(const maps::Driver& driver, const driver::CoilLoad& load,
                       const driver::OperatingPoint& point) {
  return std::visit(
      [&](const auto& own) {
        const auto lost = driver::losses(own, load, point);
        const double per_drawn = driver::supply_for(own, 1.0);
        DrivePower power{};
        power.input_per_drawn = per_drawn;
        power.copper = std::accumulate(lost.copper.begin(), lost.copper.end(), lost.harmonics);
        power.metal = lost.elsewhere;
        power.capacitor = lost.capacitor;
        power.switches = lost.switches - (per_drawn - 1.0) * point.tag_power;
        if (point.tank) {
          power.source = EnergySource::supply;
          power.input = point.tank->supply_power - per_drawn * point.tag_power;
        } else {
          power.source = EnergySource::terminals;
          power.input = 0.5 * point.current_peak * point.current_peak * point.resistance.total;
        }
        return power;
      },
      driver);
}

Ledger balance(const DrivePower& drive, const TagPower& tags) {
  return {drive.source,    drive.input + drive.input_per_drawn * tags.drawn,
          drive.copper,    drive.metal,
          drive.capacitor, drive.switches + (drive.input_per_drawn - 1.0) * tags.drawn,
          tags.coil,       tags.capacitor,
          tags.led};
}

}  // namespace driftglow::flight
