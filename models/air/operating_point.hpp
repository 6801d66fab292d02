#pragma once

#include <span>
#include <string>
#include <utility>
#include <vector>

namespace driftglow::air {

// Static pressure rise of a fan over its flow, straight lines between the points of its data sheet.
class FanCurve {
 public:
  // points: (flow [m3/s], pressure [Pa]), at least two, flow >= 0 and rising, pressure >= 0 and not rising
  // (the stalled branch, where pressure rises with flow, has no single operating point). Throws InputError.
  FanCurve(std::string name, std::vector<std::pair<double, double>> points);

  const std::string& name() const { return name_; }
  const std::vector<std::pair<double, double>>& points() const { return points_; }

 private:
  std::string name_;
  std::vector<std::pair<double, double>> points_;
};

// A loss of total pressure, K times the dynamic pressure of the mean flow in `area`.
struct FlowLoss {
  std::string name;
  double loss_coefficient;  // 1, K >= 0
  double area;              // m2
};

// What the fan works against.
struct FlowSystem {
  std::vector<FlowLoss> losses;
  double fin_loss_coefficient;  // 1, K of the fins in the vessel's cross-section; 0 without fins
  double vessel_area;           // m2
  double tag_weight;            // N, all tags together
  double density;               // kg/m3
};

struct OperatingPoint {
  double flow;             // m3/s
  double pressure;         // Pa, of the fan there
  double tag_pressure;     // Pa, the share that carries the tags
  double pressure_margin;  // 1, share of the fan's highest pressure that is left
  double flow_margin;      // 1, share of the curve's last (free) flow that is left
  std::vector<std::pair<std::string, double>> loss_pressures;  // Pa, each loss by name, fins last if any
};

// The flow at which the fan's pressure equals what the system takes:
//   Dp_fan(Q) = 1/2 rho sum K_i (Q/A_i)^2 + (tags' weight)/(vessel's area).
// The tags are taken as airborne (a fluidised bed's pressure drop is its weight over its area); those at rest
// on the mesh take less. The fan curve holds for its own test density; scale it first where that differs.
// Throws InputError when the fan cannot carry the tags' weight or the curve ends before the balance.
OperatingPoint operating_point(const FanCurve& fan, const FlowSystem& system);

}  // namespace driftglow::air
