#pragma once

#include <string>
#include <vector>

#include "sim/sheet/design_sheet.hpp"
#include "sim/sheet/field_view.hpp"

// The parts that make_sheet() is put together from.
namespace driftglow::sheet {

// Linkage amplitudes [Wb; T of a plain threshold] of a design at the sheet's places and directions, the same
// for every design and in their order.
std::vector<double> linkages(const flight::Plan& plan, const flight::DesignPlan& design,
                             const coil::Reach& reach);

Field field_of(const scenario::Scenario& scenario, const flight::Plan& plan, const coil::Reach& reach);

// Whether built tags' and drives' spreads are made, which no caution reads.
enum class Spreads { made, left_out };

// `linkages` of this design.
Design design_of(const scenario::TagDesign& tag, const flight::DesignPlan& design,
                 const scenario::Scenario& scenario, const flight::Plan& plan,
                 const std::vector<double>& linkages, Spreads spreads);

// Falling in still air of a body that flies.
Lift lift_of(const motion::Body& body, const motion::BodyTerms& terms);
// Mean over directions [m/s]: a body's mean drag area is a third along its axis and two thirds across.
double mean_terminal_speed(const Lift& lift);

// Capacitors for a wanted capacitance beside what is there already [F].
CapacitorAid capacitor_aid(double wanted, double present);

BenchWinding bench_of(const driver::CoilLoad& winding, double temperature);

std::vector<DriveCircuit> circuits_of(const scenario::Scenario& scenario, const flight::Plan& plan,
                                      const coil::Reach& reach, Spreads spreads);

std::vector<MetalPart> metal_of(const scenario::Scenario& scenario, const flight::Plan& plan);
std::vector<CircuitPair> pairs_of(const flight::Plan& plan);

std::vector<SearchCoilReading> search_coil_readings(const scenario::Scenario& scenario,
                                                    const FieldView& field, double omega);
std::vector<FirstLight> first_lights(const flight::Plan& plan, const FieldView& field,
                                     const std::vector<Design>& designs);

Exposure exposure_of(const FieldView& field, double frequency);

const char* name(safety::TouchRule rule);

std::vector<std::string> cautions_of(const DesignSheet& sheet);

}  // namespace driftglow::sheet
