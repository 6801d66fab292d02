#pragma once

#include <span>
#include <vector>

#include "models/driver/operating_point.hpp"
#include "models/receiver/glow_curve.hpp"
#include "sim/flight/result.hpp"
#include "sim/maps/drive_state.hpp"

// Where the power of a flight comes from and where it goes.
namespace driftglow::flight {

// What a tag draws from its EMF and what becomes of it, or the sum over tags [W].
struct TagPower {
  double drawn = 0.0;
  double coil = 0.0, capacitor = 0.0, led = 0.0;

  TagPower& operator+=(const TagPower& more);
  TagPower operator*(double factor) const {
    return {factor * drawn, factor * coil, factor * capacitor, factor * led};
  }
};

// A glow curve's powers at evenly spaced EMFs, straight lines between, which keep the balance of the nodes.
class PowerTable {
 public:
  // emf_max > 0 [V peak], within the curve.
  PowerTable(const receiver::GlowCurve& curve, double emf_max);

  // At an EMF >= 0 [V peak]; the last value beyond emf_max.
  TagPower at(double emf_peak) const;

 private:
  double nodes_per_emf_;  // 1/V
  std::vector<TagPower> nodes_;
};

// A drive at its coil current, without tags.
struct DrivePower {
  EnergySource source = EnergySource::field;
  double input = 0.0;                                                 // W
  double copper = 0.0, metal = 0.0, capacitor = 0.0, switches = 0.0;  // W
  double input_per_drawn = 1.0;                                       // W/W, for what tags draw

  DrivePower& operator+=(const DrivePower& more);  // the same driver's next circuit
  // At a coil current larger by `factor`.
  DrivePower at_current(double factor) const;
};

// One circuit's, less what the point's tags take.
DrivePower drive_power(const maps::Driver& driver, const driver::CoilLoad& load,
                       const driver::OperatingPoint& point);

// With tags that draw on average so much, the coil current kept.
Ledger balance(const DrivePower& drive, const TagPower& tags);

}  // namespace driftglow::flight
