#pragma once

#include <optional>
#include <vector>

#include "sim/flight/plan.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/sheet/field_view.hpp"
#include "sim/tune/readings.hpp"

// What a scenario says a reading should be, for all readings that need no flight.
namespace driftglow::tune {

// How one tag differs from its design; factors of inductance and capacitance [1], and the LED's forward
// voltage [V].
struct TagOffset {
  double inductance = 1.0, capacitance = 1.0, led_voltage = 0.0;
};

// Computes each part when it is first asked for, the field straight from the turns and not from a map. Not
// for several threads.
class BenchModel {
 public:
  // Keeps the scenario.
  explicit BenchModel(scenario::Scenario scenario) : scenario_(std::move(scenario)) {}
  BenchModel(const BenchModel&) = delete;
  BenchModel& operator=(const BenchModel&) = delete;

  // In SI; infinite where it happens nowhere (a tag that lights at no distance or supply). Throws InputError
  // where the scenario makes no working drive or air, LogicError for a simulated quantity.
  double predict(const Subject& subject, const TagOffset& offset = {});

  // Standard deviation [SI] of the mean of `tags` readings on built tags of the design: their tolerances,
  // each uniform, through the slopes of the prediction. 0 for what is not of a tag's circuit.
  double scatter(const Subject& subject, int tags);

  const scenario::Scenario& scenario() const { return scenario_; }

 private:
  const maps::DrivenCoils& coils();
  const sheet::FieldView& field();
  const maps::MeanAir& air();
  const flight::Plan& plan();
  const flight::Electrical& electrical(std::size_t tag);
  // Without the wire's loss, which takes longest.
  const flight::Electrical& lossless(std::size_t tag);
  double frequency() { return maps::frequency_of(coils()); }
  maps::CircuitView circuit(std::size_t number);

  double tank_value(const Subject& subject, const TagOffset& offset);
  double drive_tank_value(const Subject& subject);
  double meter_value(const Subject& subject, const TagOffset& offset);
  double search_coil_voltage(const Subject& subject);
  // Largest peak flux density that a held tag needs along its axis [T].
  double on_flux_density(const Subject& subject, const TagOffset& offset);
  double receiver_radius(const Subject& subject);
  double first_light_distance(const Subject& subject, const TagOffset& offset);
  double first_light_supply(const Subject& subject, const TagOffset& offset);
  double supply_current(const Subject& subject);
  double air_speed(const Subject& subject);
  double terminal_speed(const Subject& subject);
  double hover_height(const Subject& subject);

  scenario::Scenario scenario_;
  std::optional<maps::DrivenCoils> coils_;
  std::optional<sheet::FieldView> field_;
  std::optional<maps::MeanAir> air_;
  std::optional<flight::Plan> plan_;
  std::vector<std::optional<flight::Electrical>> electrical_, lossless_;
};

}  // namespace driftglow::tune
