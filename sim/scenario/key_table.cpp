#include "sim/scenario/key_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

#include "models/error.hpp"
#include "sim/store/format.hpp"

namespace driftglow::scenario {
namespace {

using D = Dimension;
using T = KeyType;
constexpr auto required = Need::required;

const With push_pull{"kind", {"current_fed_push_pull"}};
const With voltage_fed{"kind", {"voltage_fed_series"}};
const With own_tank{"kind", {"current_fed_push_pull", "voltage_fed_series"}};
const With given_current{"kind", {"given_current"}};
const With with_frequency{"kind", {"voltage_fed_series", "given_current"}};
const With ring{"kind", {"ring"}};
const With conductor_cage{"kind", {"cage"}};
const With real_chokes{"chokes", {"two", "centre_tap"}};
const With solid{"kind", {"solid"}};
const With cage{"kind", {"cage"}};
const With disc{"kind", {"disc"}};
const With column{"source", {"column"}};
const With gridded{"source", {"gridded"}};
const With solved{"source", {"solved"}};
const With with_fan{"source", {"column", "solved"}};
const With with_turbulence{"source", {"column", "gridded"}};

// clang-format off
const std::vector<Key> table = {
    {.path = "title", .type = T::text, .example = "plankton column, hall 2", .meaning = "Free text for the head of the report",
     .otherwise = "the file's name"},
    {.path = "format", .type = T::count, .example = "1", .meaning = "Version of the form in which the scenario is written; a version newer than the program knows is refused",
     .least = "1", .most = store::newest_form, .fallback = "1"},

    {.path = "ambient", .type = T::block, .example = "ambient:", .meaning = "The room"},
    {.path = "ambient.temperature", .type = T::quantity, .example = "21 degC", .meaning = "Air temperature, in the room and in the vessel",
     .dimension = D::temperature, .least = "-30 degC", .most = "60 degC", .fallback = "20 degC"},
    {.path = "ambient.pressure", .type = T::quantity, .example = "101325 Pa", .meaning = "Air pressure at the place, not reduced to sea level",
     .dimension = D::pressure, .least = "50 kPa", .most = "120 kPa", .fallback = "101325 Pa"},
    {.path = "ambient.light", .type = T::light, .example = "minor_light",
     .meaning = "Background light, which sets the illuminance at the eye from which a point of light is seen, or that illuminance itself",
     .dimension = D::illuminance, .least = "1e-9 lx", .most = "1 lx",
     .choices = {"dark_night", "minor_light", "bright_light", "day"}, .fallback = "minor_light"},
    {.path = "ambient.viewing_distance", .type = T::quantity, .example = "2 m", .meaning = "From the viewer's eye to a tag",
     .dimension = D::length, .least = "10 mm", .most = "1 km", .fallback = "2 m"},

    {.path = "vessel", .type = T::block, .need = required, .example = "vessel:", .meaning = "The upright round vessel; heights count from its floor mesh"},
    {.path = "vessel.inner_diameter", .type = T::quantity, .need = required, .example = "190 mm", .meaning = "Inside of the wall",
     .dimension = D::length, .least = "10 mm", .most = "10 m"},
    {.path = "vessel.top_diameter", .type = T::quantity, .example = "220 mm",
     .meaning = "Inside of the wall at `vessel.height` where it is a cone, 0.7 to 1.3 times `vessel.inner_diameter` and no more than 15 degrees off the axis; with `air: {source: solved}` only. Default: a straight wall",
     .dimension = D::length, .least = "7 mm", .most = "13 m"},
    {.path = "vessel.height", .type = T::quantity, .need = required, .example = "320 mm", .meaning = "From the floor mesh to the lid",
     .dimension = D::length, .least = "10 mm", .most = "20 m"},

    {.path = "drive", .type = T::block, .need = required, .example = "drive:", .meaning = "What makes the field: a driver with coils, or a uniform field"},
    {.path = "drive.driver", .type = T::block, .need = required, .example = "driver:", .meaning = "What feeds the coils", .unless = "field", .excludes = "field"},
    {.path = "drive.driver.kind", .type = T::choice, .need = required, .example = "current_fed_push_pull",
     .meaning = "current_fed_push_pull: two-transistor self-oscillating resonant driver that switches at zero volts; voltage_fed_series: bridge into coils and capacitor in series; given_current: amplitude and frequency as measured",
     .choices = {"current_fed_push_pull", "voltage_fed_series", "given_current"}},
    {.path = "drive.driver.bridge", .type = T::choice, .example = "half", .meaning = "half: one arm, the coils between it and a supply rail; full: two arms in opposite phase",
     .choices = {"half", "full"}, .fallback = "half", .only_with = voltage_fed},
    {.path = "drive.driver.supply", .type = T::quantity, .need = required, .example = "24 V", .meaning = "Supply voltage",
     .dimension = D::voltage, .least = "0.5 V", .most = "400 V", .only_with = own_tank},
    {.path = "drive.driver.drop", .type = T::quantity, .example = "0.7 V", .meaning = "What switch and choke take off the supply voltage",
     .dimension = D::voltage, .least = "0 V", .most = "50 V", .fallback = "0.7 V", .only_with = push_pull},
    {.path = "drive.driver.switch_resistance", .type = T::quantity, .example = "50 mohm", .meaning = "Of each closed switch of the bridge",
     .dimension = D::resistance, .least = "0 ohm", .most = "100 ohm", .fallback = "0.05 ohm", .only_with = voltage_fed},
    {.path = "drive.driver.capacitor", .type = T::quantity, .need = required, .example = "20 nF", .meaning = "Tank capacitor, across the coils (current_fed_push_pull) or in series with them (voltage_fed_series)",
     .dimension = D::capacitance, .least = "10 pF", .most = "1 mF", .only_with = own_tank},
    {.path = "drive.driver.capacitor_loss_tangent", .type = T::fraction, .example = "0.05 %", .meaning = "Loss tangent of the tank capacitor at the frequency",
     .least = "0", .most = "0.1", .fallback = "0.0005", .only_with = own_tank},
    {.path = "drive.driver.chokes", .type = T::choice, .example = "two", .meaning = "Feed chokes: none that matters (ideal), two, or one with a centre tap",
     .choices = {"ideal", "two", "centre_tap"}, .fallback = "ideal", .only_with = push_pull},
    {.path = "drive.driver.choke_inductance", .type = T::quantity, .need = required, .example = "470 uH", .meaning = "Of each of two chokes, or of the whole centre-tapped one",
     .dimension = D::inductance, .least = "1 uH", .most = "1 H", .only_with = real_chokes},
    {.path = "drive.driver.supply_current_rating", .type = T::quantity, .example = "2 A", .meaning = "What the supply can give; more is warned of",
     .dimension = D::current, .least = "1 mA", .most = "1000 A", .otherwise = "not checked", .only_with = own_tank},
    {.path = "drive.driver.capacitor_voltage_rating", .type = T::quantity, .example = "160 V", .meaning = "Peak voltage of the tank capacitor at the frequency; more is warned of",
     .dimension = D::voltage, .least = "1 V", .most = "100 kV", .otherwise = "not checked", .only_with = own_tank},
    {.path = "drive.driver.capacitor_current_rating", .type = T::quantity, .example = "3 A", .meaning = "Rms current of the tank capacitor; more is warned of",
     .dimension = D::current, .least = "1 mA", .most = "1000 A", .otherwise = "not checked", .only_with = own_tank},
    {.path = "drive.driver.current", .type = T::quantity, .need = required, .example = "0.6 A", .meaning = "Peak current of the coils; each circuit's current_ratio times this",
     .dimension = D::current, .least = "1 uA", .most = "1000 A", .only_with = given_current},
    {.path = "drive.driver.frequency", .type = T::quantity, .example = "118 kHz", .meaning = "Frequency of the current (given_current) or of the bridge (voltage_fed_series)",
     .dimension = D::frequency, .least = "1 kHz", .most = "30 MHz", .otherwise = "the bridge follows the resonance", .only_with = with_frequency, .needed_with = given_current},
    {.path = "drive.driver.tolerances", .type = T::block, .example = "tolerances:", .meaning = "How far the built drive tank may be from this one, uniform within plus or minus the value, one draw a replicate; with several circuits all frequencies and currents move as the first circuit's", .only_with = own_tank},
    {.path = "drive.driver.tolerances.inductance", .type = T::fraction, .example = "2 %", .meaning = "Of the coils", .least = "0", .most = "0.2", .fallback = "0"},
    {.path = "drive.driver.tolerances.capacitance", .type = T::fraction, .example = "5 %", .meaning = "Of the tank capacitor", .least = "0", .most = "0.2", .fallback = "0"},
    {.path = "drive.coils", .type = T::blocks, .need = required, .example = "- name: lower", .meaning = "The drive coils, round, outside the vessel's wall", .unless = "field", .excludes = "field"},
    {.path = "drive.coils[].name", .type = T::name, .need = required, .example = "lower", .meaning = "Name of the coil"},
    {.path = "drive.coils[].circuit", .type = T::name, .example = "main", .meaning = "Name of the circuit that the coil belongs to", .otherwise = "the first circuit"},
    {.path = "drive.coils[].height", .type = T::quantity, .need = required, .example = "80 mm", .meaning = "Middle of the winding above the floor mesh, on the vessel's axis",
     .dimension = D::length, .least = "-20 m", .most = "40 m", .unless = "centre", .excludes = "centre"},
    {.path = "drive.coils[].centre", .type = T::place, .need = required, .example = "[0 mm, 0 mm, 80 mm]", .meaning = "Middle of the winding, from the middle of the floor mesh",
     .dimension = D::length, .least = "-20 m", .most = "40 m", .unless = "height", .excludes = "height"},
    {.path = "drive.coils[].axis", .type = T::direction, .example = "[0, 0, 1]", .meaning = "Direction of the coil's axis; its length does not matter",
     .fallback = "[0, 0, 1]"},
    {.path = "drive.coils[].inner_diameter", .type = T::quantity, .need = required, .example = "200 mm", .meaning = "Inner edge of the bare wire",
     .dimension = D::length, .least = "1 mm", .most = "20 m"},
    {.path = "drive.coils[].turns", .type = T::number, .need = required, .example = "10", .meaning = "Turns of the whole winding; a part of a turn counts as that part",
     .least = "0.1", .most = "10000"},
    {.path = "drive.coils[].layers", .type = T::count, .example = "1", .meaning = "Layers over each other; each is filled before the next", .least = "1", .most = "1000", .fallback = "1"},
    {.path = "drive.coils[].wire", .type = T::wire, .need = required, .example = "1 mm", .meaning = "Bare diameter, or American wire gauge (ASTM B258)",
     .dimension = D::length, .least = "0.01 mm", .most = "10 mm", .unless = "litz", .excludes = "litz"},
    {.path = "drive.coils[].litz", .type = T::block, .example = "litz:", .meaning = "A bundle of insulated strands in place of `wire`", .otherwise = "solid wire", .excludes = "wire"},
    {.path = "drive.coils[].litz.strands", .type = T::count, .need = required, .example = "100", .meaning = "Strands in the bundle", .least = "2", .most = "100000"},
    {.path = "drive.coils[].litz.strand", .type = T::wire, .need = required, .example = "0.1 mm", .meaning = "Bare diameter of a strand, or American wire gauge",
     .dimension = D::length, .least = "0.01 mm", .most = "2 mm"},
    {.path = "drive.coils[].litz.bundle_diameter", .type = T::quantity, .example = "1.3 mm", .meaning = "Over the strands, without serving",
     .dimension = D::length, .least = "0.03 mm", .most = "50 mm", .otherwise = "1.155 sqrt(strands) enamelled strand diameters: three quarters filled"},
    {.path = "drive.coils[].litz.lay_factor", .type = T::number, .example = "1.02", .meaning = "Length of a strand over that of the bundle", .least = "1", .most = "1.3", .fallback = "1.02"},
    {.path = "drive.coils[].enamelled_diameter", .type = T::quantity, .example = "1.06 mm", .meaning = "Overall diameter of the enamelled wire, or of a bundle with its serving",
     .dimension = D::length, .least = "0.01 mm", .most = "60 mm", .otherwise = "grade 1 of IEC 60317-0-1 for the bare diameter; a bundle's own"},
    {.path = "drive.coils[].pitch", .type = T::quantity, .example = "1.5 mm", .meaning = "From turn to turn in a layer, at least the enamelled diameter",
     .dimension = D::length, .least = "0.01 mm", .most = "1 m", .otherwise = "the enamelled diameter"},
    {.path = "drive.coils[].sense", .type = T::sense, .example = "-1", .meaning = "+1: current right-handed about the axis; -1: against it", .fallback = "1"},
    {.path = "drive.circuits", .type = T::blocks, .example = "- name: main", .meaning = "The circuits that the coils form, each with a driver of the kind given, all locked to the first one's frequency", .otherwise = "one circuit named main, in series", .excludes = "field"},
    {.path = "drive.circuits[].name", .type = T::name, .need = required, .example = "main", .meaning = "Name of the circuit"},
    {.path = "drive.circuits[].connection", .type = T::choice, .example = "series", .meaning = "series: all its coils carry the same current; parallel: all have the same voltage", .choices = {"series", "parallel"}, .fallback = "series"},
    {.path = "drive.circuits[].phase", .type = T::quantity, .example = "90 deg", .meaning = "Of its current, ahead of phase 0",
     .dimension = D::angle, .least = "-360 deg", .most = "360 deg", .fallback = "0 deg"},
    {.path = "drive.circuits[].capacitor", .type = T::quantity, .example = "22 nF", .meaning = "Tank capacitor of this circuit",
     .dimension = D::capacitance, .least = "10 pF", .most = "1 mF", .otherwise = "the driver's capacitor"},
    {.path = "drive.circuits[].current_ratio", .type = T::number, .example = "1", .meaning = "Its current over that of a driver of kind given_current",
     .least = "0", .most = "1000", .fallback = "1"},
    {.path = "drive.conductors", .type = T::blocks, .example = "- name: rim", .meaning = "Closed metal about the vessel's axis in which the coils induce currents: rings, rims of meshes, cages of rods", .otherwise = "none", .excludes = "field"},
    {.path = "drive.conductors[].name", .type = T::name, .need = required, .example = "rim", .meaning = "Name of the part"},
    {.path = "drive.conductors[].kind", .type = T::choice, .need = required, .example = "ring", .meaning = "ring: one closed ring; cage: upright rods joined by a ring at both ends", .choices = {"ring", "cage"}},
    {.path = "drive.conductors[].metal", .type = T::choice, .example = "aluminium", .meaning = "What it is made of; no magnetic steel", .choices = {"copper", "aluminium", "brass", "stainless_steel"}, .fallback = "aluminium"},
    {.path = "drive.conductors[].height", .type = T::quantity, .need = required, .example = "0 mm", .meaning = "Middle of a ring above the floor mesh",
     .dimension = D::length, .least = "-20 m", .most = "40 m", .only_with = ring},
    {.path = "drive.conductors[].low", .type = T::quantity, .need = required, .example = "0 mm", .meaning = "Lower end of a cage",
     .dimension = D::length, .least = "-20 m", .most = "40 m", .only_with = conductor_cage},
    {.path = "drive.conductors[].high", .type = T::quantity, .need = required, .example = "320 mm", .meaning = "Upper end of a cage",
     .dimension = D::length, .least = "-20 m", .most = "40 m", .only_with = conductor_cage},
    {.path = "drive.conductors[].diameter", .type = T::quantity, .need = required, .example = "206 mm", .meaning = "Of the middle of a ring's section, or between opposite rods' middles",
     .dimension = D::length, .least = "1 mm", .most = "20 m"},
    {.path = "drive.conductors[].rods", .type = T::count, .need = required, .example = "6", .meaning = "Rods of a cage, evenly spaced", .least = "2", .most = "48", .only_with = conductor_cage},
    {.path = "drive.conductors[].section", .type = T::block, .need = required, .example = "section:", .meaning = "Cross-section: a diameter, or width and height"},
    {.path = "drive.conductors[].section.diameter", .type = T::quantity, .example = "4 mm", .meaning = "Of round metal", .dimension = D::length, .least = "0.01 mm", .most = "1 m",
     .otherwise = "width and height", .excludes = "width"},
    {.path = "drive.conductors[].section.width", .type = T::quantity, .need = required, .example = "10 mm", .meaning = "Of flat metal, along the radius", .dimension = D::length, .least = "0.01 mm", .most = "1 m",
     .unless = "diameter", .excludes = "diameter"},
    {.path = "drive.conductors[].section.height", .type = T::quantity, .need = required, .example = "3 mm", .meaning = "Of flat metal, along the vessel's axis", .dimension = D::length, .least = "0.01 mm", .most = "1 m",
     .unless = "diameter", .excludes = "diameter"},
    {.path = "drive.conductors[].joint_resistance", .type = T::quantity, .example = "1 mohm", .meaning = "Of all joints of one closed loop",
     .dimension = D::resistance, .least = "0 ohm", .most = "1000 ohm", .fallback = "0 ohm"},
    {.path = "drive.field", .type = T::block, .example = "field:", .meaning = "A uniform field, or one measured on a grid, instead of driver and coils"},
    {.path = "drive.field.flux_density", .type = T::quantity, .need = required, .example = "40 uT", .meaning = "Peak flux density, everywhere",
     .dimension = D::flux_density, .least = "1 nT", .most = "1 T", .unless = "file", .excludes = "file"},
    {.path = "drive.field.frequency", .type = T::quantity, .need = required, .example = "118 kHz", .meaning = "Frequency of the field",
     .dimension = D::frequency, .least = "1 kHz", .most = "30 MHz"},
    {.path = "drive.field.axis", .type = T::direction, .example = "[0, 0, 1]", .meaning = "Direction of the field; its length does not matter", .fallback = "[0, 0, 1]", .excludes = "file"},
    {.path = "drive.field.quadrature_axis", .type = T::direction, .example = "[1, 0, 0]", .meaning = "Direction of a second field of the same peak, 90 degrees later", .otherwise = "no second field", .excludes = "file"},
    {.path = "drive.field.file", .type = T::text, .example = "measured.csv", .meaning = "The field as measured, CSV (`r [mm], z [mm], B_r [uT], B_z [uT]`, or x, y, z with B_x, B_y, B_z; peak, with the sign that it has while the coils' current is positive; of a turning field also B_x_later ... a quarter period later; or U_... for the rms voltage of a search coil along that axis) or HDF5 (/axes/r ..., /field/B_r ... in SI), from the scenario's folder; the nodes make a grid that covers the tags' reach", .otherwise = "the field is uniform", .excludes = "flux_density"},
    {.path = "drive.field.factor", .type = T::number, .example = "1.5", .meaning = "Times what the file says: the current to come over that of the measurement, or what a search coil's calibration is off",
     .least = "0.0001", .most = "10000", .fallback = "1", .excludes = "flux_density"},
    {.path = "drive.field.search_coil", .type = T::block, .example = "search_coil:", .meaning = "The coil whose voltages the file holds", .otherwise = "the file holds flux densities", .excludes = "flux_density"},
    {.path = "drive.field.search_coil.turns", .type = T::number, .need = required, .example = "10", .meaning = "Its turns", .least = "0.1", .most = "100000"},
    {.path = "drive.field.search_coil.area", .type = T::quantity, .need = required, .example = "1.5 cm2", .meaning = "Of one turn; smaller than the grid's cells, since its mean counts as the field at its centre",
     .dimension = D::area, .least = "1 mm2", .most = "100 m2"},

    {.path = "air", .type = T::block, .example = "air:", .meaning = "The airflow in the vessel; may be left out where every design is held", .otherwise = "still air, where every design is held"},
    {.path = "air.source", .type = T::choice, .example = "column", .meaning = "column: the closed-form flow of a vessel blown through its floor; solved: computed from fan, vessel and vents; gridded: read from a file of measured or computed air", .choices = {"column", "solved", "gridded"}, .fallback = "column"},
    {.path = "air.flow_rate", .type = T::quantity, .need = required, .example = "0.07 m3/s", .meaning = "Air through the floor mesh; 0 is still air",
     .dimension = D::volume_flow, .least = "0 m3/s", .most = "100 m3/s", .only_with = column, .unless = "fan", .excludes = "fan"},
    {.path = "air.fan", .type = T::block, .need = required, .example = "fan:", .meaning = "The fan; the flow follows from its curve, the losses and the tags' weight", .only_with = with_fan, .unless = "flow_rate", .excludes = "flow_rate"},
    {.path = "air.fan.name", .type = T::name, .need = required, .example = "axial 120 mm", .meaning = "A fan of the library (data/fans), or any name beside a curve", .unless = "curve"},
    {.path = "air.fan.curve", .type = T::curve, .need = required, .example = "[[0 m3/s, 60 Pa], [0.05 m3/s, 30 Pa], [0.1 m3/s, 0 Pa]]", .meaning = "Points of flow and static pressure, flow rising and pressure not rising",
     .dimension = D::volume_flow, .second_dimension = D::pressure, .unless = "name"},
    {.path = "air.fan.diameter", .type = T::quantity, .example = "180 mm", .meaning = "Of the opening that the fan blows through, at most the vessel's",
     .dimension = D::length, .least = "5 mm", .most = "10 m", .otherwise = "the vessel's inner diameter"},
    {.path = "air.fan.hub_diameter", .type = T::quantity, .example = "60 mm", .meaning = "Of the fan's hub, which blows nothing; 0 is none",
     .dimension = D::length, .least = "0 mm", .most = "9 m", .otherwise = "0.4 of the fan's diameter"},
    {.path = "air.fan.swirl_angle", .type = T::quantity, .example = "20 deg", .meaning = "Between the air behind the fan and the axis; counter-clockwise from above where above 0",
     .dimension = D::angle, .least = "-65 deg", .most = "65 deg", .otherwise = "no swirl, or from speed and efficiency", .excludes = "speed"},
    {.path = "air.fan.speed", .type = T::quantity, .example = "2800 rpm", .meaning = "Of the fan's rotor, counter-clockwise from above where above 0; with the efficiency it gives the swirl at the operating point",
     .dimension = D::rotation_speed, .least = "-100000 rpm", .most = "100000 rpm", .otherwise = "no swirl, or the angle", .excludes = "swirl_angle"},
    {.path = "air.fan.efficiency", .type = T::fraction, .example = "35 %", .meaning = "Of the rotor, total pressure times flow over the shaft's power; needs `speed`", .least = "0.02", .most = "1", .fallback = "0.4"},
    {.path = "air.inlet_height", .type = T::quantity, .need = required, .example = "60 mm", .meaning = "From the fan to the floor mesh, a chamber as wide as the vessel",
     .dimension = D::length, .least = "1 mm", .most = "10 m", .only_with = solved},
    {.path = "air.guard", .type = T::block, .example = "guard:", .meaning = "Finger guard over the fan: wires, or its loss", .otherwise = "none", .only_with = solved},
    {.path = "air.guard.loss", .type = T::number, .need = required, .example = "0.5", .meaning = "Pressure loss over the dynamic pressure in the fan's annulus", .least = "0", .most = "1000", .unless = "wire", .excludes = "wire"},
    {.path = "air.guard.wire", .type = T::quantity, .need = required, .example = "1.5 mm", .meaning = "Diameter of the wires", .dimension = D::length, .least = "0.01 mm", .most = "20 mm", .unless = "loss", .excludes = "loss"},
    {.path = "air.guard.opening", .type = T::quantity, .example = "8 mm", .meaning = "Clear width between two wires; needed with `wire`", .dimension = D::length, .least = "0.01 mm", .most = "1 m", .otherwise = "none", .excludes = "loss"},
    {.path = "air.mesh", .type = T::block, .example = "mesh:", .meaning = "The floor mesh that tags land on: wires, or its loss", .otherwise = "none", .only_with = solved},
    {.path = "air.mesh.loss", .type = T::number, .need = required, .example = "1.2", .meaning = "Pressure loss over the dynamic pressure in the vessel's cross-section", .least = "0", .most = "1000", .unless = "wire", .excludes = "wire"},
    {.path = "air.mesh.wire", .type = T::quantity, .need = required, .example = "0.4 mm", .meaning = "Diameter of the wires", .dimension = D::length, .least = "0.01 mm", .most = "20 mm", .unless = "loss", .excludes = "loss"},
    {.path = "air.mesh.opening", .type = T::quantity, .example = "3 mm", .meaning = "Clear width between two wires; needed with `wire`", .dimension = D::length, .least = "0.01 mm", .most = "1 m", .otherwise = "none", .excludes = "loss"},
    {.path = "air.vents", .type = T::block, .need = required, .example = "vents:", .meaning = "Where the air leaves: a gap under the lid, the lid's openings, or both", .only_with = solved},
    {.path = "air.vents.side_gap", .type = T::block, .example = "side_gap:", .meaning = "Open ring between the wall's upper edge and the lid", .otherwise = "none"},
    {.path = "air.vents.side_gap.height", .type = T::quantity, .example = "8 mm", .meaning = "Of the gap, within the vessel's height; at most half of that",
     .dimension = D::length, .least = "0.1 mm", .most = "10 m", .otherwise = "what air.lid_height leaves above the wall"},
    {.path = "air.vents.side_gap.edge", .type = T::choice, .example = "sharp", .meaning = "Of the gap: sharp passes 0.61 of the ideal flow, rounded 0.98; holes are sharp", .choices = {"sharp", "rounded"}, .fallback = "sharp"},
    {.path = "air.vents.holes", .type = T::block, .example = "holes:", .meaning = "Openings of the lid in a ring about its middle: holes of a diameter, a share that is open, or all of the ring", .otherwise = "none"},
    {.path = "air.vents.holes.from_radius", .type = T::quantity, .example = "20 mm", .meaning = "Inner edge of the ring, 0 for a disc", .dimension = D::length, .least = "0 mm", .most = "5 m", .fallback = "0 mm"},
    {.path = "air.vents.holes.to_radius", .type = T::quantity, .need = required, .example = "60 mm", .meaning = "Outer edge of the ring", .dimension = D::length, .least = "1 mm", .most = "5 m"},
    {.path = "air.vents.holes.diameter", .type = T::quantity, .example = "8 mm", .meaning = "Of one hole; needs `count`", .dimension = D::length, .least = "0.1 mm", .most = "5 m", .otherwise = "open_share counts", .excludes = "open_share"},
    {.path = "air.vents.holes.count", .type = T::count, .example = "40", .meaning = "Holes in the ring; needs `diameter`", .least = "1", .most = "100000", .otherwise = "open_share counts", .excludes = "open_share"},
    {.path = "air.vents.holes.open_share", .type = T::fraction, .example = "40 %", .meaning = "Share of the ring that is open", .least = "0.001", .most = "1", .otherwise = "from the holes, else all of the ring"},
    {.path = "air.lid_height", .type = T::quantity, .example = "325 mm", .meaning = "Of the lid above the floor mesh; above the wall's vessel.height the rest is a side gap",
     .dimension = D::length, .least = "1 mm", .most = "20 m", .otherwise = "vessel.height", .only_with = solved},
    {.path = "air.detail", .type = T::choice, .example = "normal", .meaning = "Of the solver's grid; each takes several times as long as the one before", .choices = {"quick", "normal", "fine"}, .fallback = "normal", .only_with = solved},
    {.path = "air.file", .type = T::text, .need = required, .example = "measured.csv", .meaning = "CSV (`r [mm], z [mm], u_r [m/s], u_theta [m/s], u_z [m/s], k [m2/s2], epsilon [m2/s3]`; u_r, k and epsilon may be left out) or HDF5 (laid out as air.h5), from the scenario's folder; the nodes make a grid of r and z that covers the vessel", .only_with = gridded},
    {.path = "air.open_above", .type = T::quantity, .example = "300 mm", .meaning = "Height from which the wall lets air through",
     .dimension = D::length, .least = "0 mm", .most = "20 m", .otherwise = "the wall is closed", .only_with = gridded},
    {.path = "air.losses", .type = T::blocks, .example = "- name: mesh", .meaning = "What the air has to pass: inlet, guard, mesh, lid; needs a fan", .otherwise = "none", .only_with = column},
    {.path = "air.losses[].name", .type = T::name, .need = required, .example = "mesh", .meaning = "Name of the part"},
    {.path = "air.losses[].loss_coefficient", .type = T::number, .need = required, .example = "1.2", .meaning = "Pressure loss over the dynamic pressure of the mean speed in its area",
     .least = "0", .most = "100000"},
    {.path = "air.losses[].area", .type = T::quantity, .example = "280 cm2", .meaning = "The area that the loss coefficient refers to",
     .dimension = D::area, .least = "1 mm2", .most = "1000 m2", .otherwise = "the vessel's cross-section"},
    {.path = "air.profile_exponent", .type = T::number, .example = "4", .meaning = "m of the inlet profile 1 - (r/R)^(2m): 1 is parabolic, a large one a plug", .least = "1", .most = "1000", .fallback = "4", .only_with = column},
    {.path = "air.circulation", .type = T::number, .example = "1.2", .meaning = "c, strength of the loop up in the middle and down at the wall (below 0: the other way)", .least = "-20", .most = "20", .fallback = "0", .only_with = column},
    {.path = "air.side_vents", .type = T::block, .example = "side_vents:", .meaning = "Openings in the wall, from a height up to the lid", .otherwise = "none", .only_with = column},
    {.path = "air.side_vents.bottom", .type = T::quantity, .need = required, .example = "250 mm", .meaning = "Height of their lower edge",
     .dimension = D::length, .least = "0 mm", .most = "20 m"},
    {.path = "air.side_vents.fraction", .type = T::fraction, .need = required, .example = "30 %", .meaning = "Share of the flow that leaves through them", .least = "0", .most = "1"},
    {.path = "air.lid_opening", .type = T::block, .example = "lid_opening:", .meaning = "The hole or ring in the lid that the air leaves through", .otherwise = "the whole lid is open", .only_with = column},
    {.path = "air.lid_opening.inner_radius", .type = T::quantity, .example = "20 mm", .meaning = "Inner edge of a ring, 0 for a hole",
     .dimension = D::length, .least = "0 mm", .most = "5 m", .fallback = "0 mm"},
    {.path = "air.lid_opening.outer_radius", .type = T::quantity, .need = required, .example = "60 mm", .meaning = "Outer edge of the opening",
     .dimension = D::length, .least = "1 mm", .most = "5 m"},
    {.path = "air.swirl", .type = T::block, .example = "swirl:", .meaning = "Rotation of the air that the fan leaves", .otherwise = "none", .only_with = column},
    {.path = "air.swirl.speed", .type = T::quantity, .need = required, .example = "0.4 m/s", .meaning = "Largest tangential speed at the floor, before the fins; counter-clockwise from above",
     .dimension = D::speed, .least = "-30 m/s", .most = "30 m/s"},
    {.path = "air.swirl.core_radius", .type = T::quantity, .example = "30 mm", .meaning = "Radius of the core, which turns nearly as a solid body",
     .dimension = D::length, .least = "1 mm", .most = "5 m", .otherwise = "a third of the vessel's radius"},
    {.path = "air.swirl.wall_exponent", .type = T::number, .example = "8", .meaning = "p of the fall 1 - (r/R)^p to the wall", .least = "1", .most = "100", .fallback = "8"},
    {.path = "air.swirl.decay", .type = T::number, .example = "0.05", .meaning = "beta of the decay e^(-beta z/D) along the vessel", .least = "0", .most = "10", .otherwise = "from the Reynolds number"},
    {.path = "air.fins", .type = T::block, .example = "fins:", .meaning = "Straightening fins", .otherwise = "none", .only_with = with_fan},
    {.path = "air.fins.swirl_factor", .type = T::number, .example = "0.3", .meaning = "column: multiplies the swirl's speed", .least = "0", .most = "10", .otherwise = "needed with column"},
    {.path = "air.fins.loss_coefficient", .type = T::number, .example = "0.4", .meaning = "column: their pressure loss over the dynamic pressure in the vessel's cross-section", .least = "0", .most = "1000", .fallback = "0"},
    {.path = "air.fins.where", .type = T::choice, .example = "under_mesh", .meaning = "solved: between fan and mesh, or on the vessel's wall", .choices = {"under_mesh", "wall"}, .fallback = "under_mesh"},
    {.path = "air.fins.count", .type = T::count, .example = "8", .meaning = "solved: plates around the circumference", .least = "2", .most = "200", .otherwise = "needed with solved"},
    {.path = "air.fins.depth", .type = T::quantity, .example = "40 mm", .meaning = "solved: from the wall inwards", .dimension = D::length, .least = "1 mm", .most = "5 m", .otherwise = "up to the axis under the mesh; needed on the wall"},
    {.path = "air.fins.from", .type = T::quantity, .example = "-50 mm", .meaning = "solved: lower end above the floor mesh, below 0 under it", .dimension = D::length, .least = "-10 m", .most = "20 m", .otherwise = "the fan, or the mesh for fins on the wall"},
    {.path = "air.fins.to", .type = T::quantity, .example = "-10 mm", .meaning = "solved: upper end", .dimension = D::length, .least = "-10 m", .most = "20 m", .otherwise = "the mesh, or the vents for fins on the wall"},
    {.path = "air.turbulence", .type = T::block, .example = "turbulence:", .meaning = "The fluctuating part of the flow", .only_with = with_turbulence},
    {.path = "air.turbulence.intensity", .type = T::fraction, .example = "10 %", .meaning = "Rms of one component over the mean speed", .least = "0", .most = "1", .fallback = "10 %"},
    {.path = "air.turbulence.floor", .type = T::quantity, .example = "0.001 m2/s2", .meaning = "Kinetic energy that is added everywhere",
     .dimension = D::specific_energy, .least = "0 m2/s2", .most = "100 m2/s2", .fallback = "0 m2/s2"},
    {.path = "air.turbulence.length_scale", .type = T::quantity, .example = "13 mm", .meaning = "Mixing length",
     .dimension = D::length, .least = "0.1 mm", .most = "5 m", .otherwise = "0.14 of the vessel's radius"},
    {.path = "air.precession", .type = T::block, .example = "precession:", .meaning = "Slow wandering of the core of a swirling flow: a transverse wind that goes round, fading to the wall", .otherwise = "none"},
    {.path = "air.precession.speed", .type = T::quantity, .need = required, .example = "0.3 m/s", .meaning = "Of that wind on the axis", .dimension = D::speed, .least = "0 m/s", .most = "30 m/s"},
    {.path = "air.precession.strouhal_number", .type = T::number, .example = "0.8", .meaning = "Frequency times the vessel's diameter over the mean upward speed, 0.4 to 1.2 is common; below 0 it goes clockwise from above", .least = "-10", .most = "10", .fallback = "0.8"},
    {.path = "air.gust_averaging", .type = T::choice, .example = "on", .meaning = "on: gusts smaller than a tag are averaged over it, by one factor a design", .choices = {"off", "on"}, .otherwise = "off with column, whose intensity is what a tag feels; on with solved and gridded"},

    {.path = "emitters", .type = T::blocks_or_names, .example = "[green, warm-white]", .meaning = "Names of the library (data/emitters) or own entries; `fits` looks here first and then in the library, so names of the library need not stand here", .otherwise = "the library alone"},
    {.path = "emitters[].name", .type = T::name, .need = required, .example = "my green", .meaning = "Name for `fits` and the results"},
    {.path = "emitters[].colour", .type = T::text, .need = required, .example = "green", .meaning = "Colour in words, by which light is summed"},
    {.path = "emitters[].points", .type = T::curve, .need = required, .example = "[[0.1 mA, 1.70 V], [1 mA, 1.85 V], [20 mA, 2.05 V]]", .meaning = "Data-sheet points of forward current and voltage, both rising, at least two; one of them near the threshold current",
     .dimension = D::current, .second_dimension = D::voltage},
    {.path = "emitters[].luminous_intensity", .type = T::quantity, .need = required, .example = "150 mcd", .meaning = "On the axis at `at_current`",
     .dimension = D::luminous_intensity, .least = "1 ucd", .most = "1000 cd"},
    {.path = "emitters[].at_current", .type = T::quantity, .need = required, .example = "20 mA", .meaning = "The current that the luminous intensity is given at",
     .dimension = D::current, .least = "1 uA", .most = "10 A"},
    {.path = "emitters[].junction_capacitance", .type = T::quantity, .example = "40 pF", .meaning = "Capacitance at 0 V",
     .dimension = D::capacitance, .least = "0 pF", .most = "1 uF", .fallback = "40 pF"},
    {.path = "emitters[].reverse_breakdown", .type = T::quantity, .example = "20 V", .meaning = "Where it breaks down in reverse, typically far above its rating",
     .dimension = D::voltage, .least = "0.5 V", .most = "1 kV", .fallback = "20 V"},
    {.path = "emitters[].reverse_leakage", .type = T::quantity, .example = "10 nA", .meaning = "Reverse current at half the breakdown voltage",
     .dimension = D::current, .least = "0 A", .most = "10 mA", .fallback = "10 nA"},
    {.path = "emitters[].ratings", .type = T::block, .need = required, .example = "ratings:", .meaning = "Limits of the data sheet; time above them is counted"},
    {.path = "emitters[].ratings.mean_current", .type = T::quantity, .need = required, .example = "20 mA", .meaning = "Largest mean forward current",
     .dimension = D::current, .least = "1 uA", .most = "10 A"},
    {.path = "emitters[].ratings.peak_current", .type = T::quantity, .need = required, .example = "100 mA", .meaning = "Largest peak forward current",
     .dimension = D::current, .least = "1 uA", .most = "100 A"},
    {.path = "emitters[].ratings.reverse_voltage", .type = T::quantity, .need = required, .example = "5 V", .meaning = "Largest reverse voltage",
     .dimension = D::voltage, .least = "0.1 V", .most = "1 kV"},
    {.path = "emitters[].chromaticity", .type = T::chromaticity, .example = "[0.20, 0.70]", .meaning = "CIE 1931 x and y, for the replay's colour", .fallback = "[0.333, 0.333]"},

    {.path = "tags", .type = T::blocks, .need = required, .example = "- name: plankton", .meaning = "The tag designs; all fly in the same vessel"},
    {.path = "tags[].name", .type = T::name, .need = required, .example = "plankton", .meaning = "Name of the design in the results"},
    {.path = "tags[].count", .type = T::count, .need = required, .example = "24", .meaning = "Tags of this design in the vessel", .least = "1", .most = "10000"},
    {.path = "tags[].body", .type = T::block, .need = required, .example = "body:", .meaning = "What flies", .unless = "hold"},
    {.path = "tags[].body.kind", .type = T::choice, .example = "solid", .meaning = "solid: has mass and drag; tracer: goes with the air, for checks", .choices = {"solid", "tracer"}, .fallback = "solid"},
    {.path = "tags[].body.radius", .type = T::quantity, .example = "18 mm", .meaning = "Of the sphere that touches walls and other tags",
     .dimension = D::length, .least = "0 mm", .most = "1 m", .otherwise = "0 for a tracer", .needed_with = solid},
    {.path = "tags[].body.mass", .type = T::quantity, .need = required, .example = "0.48 g", .meaning = "The whole tag: body, coil, capacitor, emitter, glue",
     .dimension = D::mass, .least = "1 ug", .most = "10 kg", .only_with = solid, .unless = "parts", .excludes = "parts"},
    {.path = "tags[].body.parts", .type = T::blocks, .need = required, .example = "- {name: coil, mass: 0.2 g}", .meaning = "The parts whose masses make the tag's", .only_with = solid, .unless = "mass", .excludes = "mass"},
    {.path = "tags[].body.parts[].name", .type = T::name, .need = required, .example = "coil", .meaning = "Name of the part"},
    {.path = "tags[].body.parts[].mass", .type = T::quantity, .need = required, .example = "0.2 g", .meaning = "Its mass",
     .dimension = D::mass, .least = "0 g", .most = "10 kg"},
    {.path = "tags[].body.drag", .type = T::block, .example = "drag:", .meaning = "How the air takes hold of the tag", .only_with = solid},
    {.path = "tags[].body.drag.kind", .type = T::choice, .example = "sphere", .meaning = "sphere: smooth, closed; cage: open frame with given coefficients; disc: flat, across the coil's axis", .choices = {"sphere", "cage", "disc"}, .fallback = "sphere"},
    {.path = "tags[].body.drag.coefficient_along", .type = T::number, .need = required, .example = "1.1", .meaning = "Drag coefficient, flow along the coil's axis", .least = "0", .most = "100", .only_with = cage},
    {.path = "tags[].body.drag.coefficient_across", .type = T::number, .need = required, .example = "0.8", .meaning = "Drag coefficient, flow across the coil's axis", .least = "0", .most = "100", .only_with = cage},
    {.path = "tags[].body.drag.frontal_area", .type = T::quantity, .need = required, .example = "5 cm2", .meaning = "The area that both coefficients refer to",
     .dimension = D::area, .least = "0.01 mm2", .most = "10 m2", .only_with = cage},
    {.path = "tags[].body.drag.thickness", .type = T::quantity, .need = required, .example = "2 mm", .meaning = "Thickness of the disc",
     .dimension = D::length, .least = "0.001 mm", .most = "1 m", .only_with = disc},
    {.path = "tags[].body.inertia", .type = T::number, .example = "0.667", .meaning = "kappa of the moment of inertia kappa m a^2: 0.4 solid ball, 0.667 shell, 0.5 ring about a diameter", .least = "0.05", .most = "1",
     .otherwise = "0.667, for a disc 0.5", .only_with = solid},
    {.path = "tags[].body.centre_offset", .type = T::quantity, .example = "2 mm", .meaning = "From the centre of mass to the centre of drag, along the coil's axis",
     .dimension = D::length, .least = "-1 m", .most = "1 m", .fallback = "0 mm", .only_with = solid},
    {.path = "tags[].body.displaced_volume", .type = T::quantity, .example = "14 cm3", .meaning = "Air that the tag displaces, for its buoyancy",
     .dimension = D::volume, .least = "0 m3", .most = "5 m3", .otherwise = "the sphere's for drag `sphere`, 0 for `cage` and `disc`", .only_with = solid},
    {.path = "tags[].body.restitution", .type = T::fraction, .example = "0.4", .meaning = "Speed after over speed before a straight bounce", .least = "0", .most = "1", .fallback = "0.4", .only_with = solid},
    {.path = "tags[].body.friction", .type = T::number, .example = "0.3", .meaning = "Coulomb's coefficient, against wall, mesh and other tags", .least = "0", .most = "5", .fallback = "0.3", .only_with = solid},
    {.path = "tags[].body.rolling_resistance", .type = T::fraction, .example = "0.02", .meaning = "Lever arm of the rolling resistance over the radius", .least = "0", .most = "1", .fallback = "0.02", .only_with = solid},
    {.path = "tags[].body.wall_lift", .type = T::choice, .example = "on", .meaning = "Lift off a wall that air sweeps along; the least certain of the forces", .choices = {"on", "off"}, .fallback = "on", .only_with = solid},
    {.path = "tags[].receiver", .type = T::block, .need = required, .example = "receiver:", .meaning = "The tag's coil and tank, or a plain threshold"},
    {.path = "tags[].receiver.inner_diameter", .type = T::quantity, .need = required, .example = "30 mm", .meaning = "Inner edge of the bare wire",
     .dimension = D::length, .least = "0.5 mm", .most = "1 m", .unless = "threshold_flux_density", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.turns", .type = T::number, .need = required, .example = "23", .meaning = "Turns of the whole winding",
     .least = "0.1", .most = "10000", .unless = "threshold_flux_density", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.layers", .type = T::count, .example = "3", .meaning = "Layers over each other; each is filled before the next", .least = "1", .most = "1000", .fallback = "1", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.wire", .type = T::wire, .need = required, .example = "0.125 mm", .meaning = "Bare diameter, or American wire gauge (ASTM B258)",
     .dimension = D::length, .least = "0.01 mm", .most = "10 mm", .unless = "threshold_flux_density", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.enamelled_diameter", .type = T::quantity, .example = "0.144 mm", .meaning = "Overall diameter of the enamelled wire",
     .dimension = D::length, .least = "0.01 mm", .most = "20 mm", .otherwise = "grade 1 of IEC 60317-0-1 for the bare diameter", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.pitch", .type = T::quantity, .example = "0.15 mm", .meaning = "From turn to turn in a layer, at least the enamelled diameter",
     .dimension = D::length, .least = "0.01 mm", .most = "1 m", .otherwise = "the enamelled diameter", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.capacitor", .type = T::quantity, .need = required, .example = "47 nF", .meaning = "Tank capacitor, across coil and emitter",
     .dimension = D::capacitance, .least = "1 pF", .most = "1 mF", .unless = "threshold_flux_density", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.capacitor_class", .type = T::choice, .example = "C0G",
     .meaning = "Class of the capacitor: ceramic by its code, or film; gives loss, tolerance (5 %, of X and Y codes 10 %) where not given, change by temperature and by voltage", .choices = {"C0G", "U2J", "X7R", "X7S", "X5R", "X6S", "Y5V", "polypropylene", "polyester"}, .otherwise = "as the other keys say", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.capacitor_rated_voltage", .type = T::quantity, .example = "50 V", .meaning = "Direct voltage that the capacitor is rated for: the sheet warns where the tank's peak exceeds it; the less, the more capacitance X and Y codes lose",
     .dimension = D::voltage, .least = "1 V", .most = "10 kV", .otherwise = "no warning, and 50 V for the loss of X and Y codes", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.loss_tangent", .type = T::fraction, .example = "0.1 %", .meaning = "Loss tangent of the capacitor at the frequency", .least = "0", .most = "0.5", .fallback = "0.001", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.tolerances", .type = T::block, .example = "tolerances:", .meaning = "Every built tag draws its own values, evenly within these limits", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.tolerances.inductance", .type = T::fraction, .example = "3 %", .meaning = "Of the coil's inductance, to either side", .least = "0", .most = "0.5", .fallback = "0"},
    {.path = "tags[].receiver.tolerances.capacitance", .type = T::fraction, .example = "5 %", .meaning = "Of the capacitor, to either side", .least = "0", .most = "0.5", .fallback = "0"},
    {.path = "tags[].receiver.tolerances.led_voltage", .type = T::quantity, .example = "50 mV", .meaning = "Of the emitter's forward voltage, to either side; each of a pair draws its own",
     .dimension = D::voltage, .least = "0 V", .most = "1 V", .fallback = "0 V"},
    {.path = "tags[].receiver.threshold_current", .type = T::quantity, .example = "0.2 mA", .meaning = "Mean emitter current from which a tag counts as on; of a pair the sum of both",
     .dimension = D::current, .least = "1 nA", .most = "1 A", .otherwise = "from ambient.light and ambient.viewing_distance", .excludes = "threshold_flux_density"},
    {.path = "tags[].receiver.threshold_flux_density", .type = T::quantity, .example = "18 uT", .meaning = "Instead of coil and tank: on where the peak flux density along the tag's axis reaches this",
     .dimension = D::flux_density, .least = "1 nT", .most = "1 T"},
    {.path = "tags[].fits", .type = T::fits, .example = "[green, warm-white, green | red]", .meaning = "What is compared on this design, all on the same flights: emitters, or antiparallel pairs of two as `green | red`, lit when the light of both together is seen; a name is looked up in `emitters` first, then in the library", .otherwise = "for a receiver with threshold_flux_density: one fit named threshold; else required"},
    {.path = "tags[].mix", .type = T::counts_by_fit, .example = "{green: 16, warm-white: 8}", .meaning = "How many of the count carry which of the fits, for the light of all tags together", .least = "0", .most = "10000", .otherwise = "shared evenly, the first fits getting the remainder"},
    {.path = "tags[].hold", .type = T::block, .example = "hold:", .meaning = "Holds the tags of this design in one place, for checks; flying tags pass through them"},
    {.path = "tags[].hold.place", .type = T::place, .need = required, .example = "[0 mm, 0 mm, 160 mm]", .meaning = "Where the tag's centre is",
     .dimension = D::length, .least = "-5 m", .most = "20 m"},
    {.path = "tags[].hold.axis", .type = T::direction_or_choice, .example = "[0, 0, 1]", .meaning = "Direction of the coil's axis; uniform: a new one every step, all directions alike", .choices = {"uniform"}, .fallback = "uniform"},

    {.path = "flight", .type = T::block, .need = required, .example = "flight:", .meaning = "How long and how often it is flown"},
    {.path = "flight.duration", .type = T::quantity, .need = required, .example = "60 s", .meaning = "What is counted of a replicate, after the warm-up",
     .dimension = D::time, .least = "1 ms", .most = "300 h"},
    {.path = "flight.warmup", .type = T::quantity, .example = "5 s", .meaning = "What is flown before and not counted",
     .dimension = D::time, .least = "0 s", .most = "10 h", .fallback = "5 s"},
    {.path = "flight.step", .type = T::quantity, .example = "1 ms", .meaning = "Time step of the motion",
     .dimension = D::time, .least = "1 us", .most = "5 ms", .range_reason = "a longer step misses bounces and flashes", .fallback = "1 ms"},
    {.path = "flight.replicates", .type = T::count, .example = "16", .meaning = "Independent flights of the whole vessel; with target_interval the most that are flown", .least = "1", .most = "1000000", .otherwise = "16; with target_interval at most 1000"},
    {.path = "flight.target_interval", .type = T::fraction, .example = "1 %", .meaning = "Stop when every duty's 95 % interval is within plus or minus this", .least = "0.00001", .most = "0.5", .otherwise = "the replicates are flown"},
    {.path = "flight.seed", .type = T::count, .example = "1", .meaning = "Same scenario and seed: same results", .least = "0", .most = "18446744073709551615", .fallback = "1"},
    {.path = "flight.coupling", .type = T::choice, .example = "on",
     .meaning = "Whether tags' coils act on each other in the flight; takes some twenty times as long; the sheet warns when it matters", .choices = {"off", "on"}, .fallback = "off"},
    {.path = "flight.lost_limit", .type = T::fraction, .example = "1 %", .meaning = "Share of all tags that may get lost (a state that is no finite number, outside the vessel, faster than sound); with more there are no results", .least = "0", .most = "1", .fallback = "0.01"},
    {.path = "flight.trace", .type = T::block, .example = "trace:", .meaning = "What is kept for the replay"},
    {.path = "flight.trace.replicates", .type = T::count, .example = "1", .meaning = "So many replicates are recorded; 0: none", .least = "0", .most = "1000", .fallback = "1"},
    {.path = "flight.trace.interval", .type = T::quantity, .example = "20 ms", .meaning = "Time between recorded pictures, rounded to whole steps",
     .dimension = D::time, .least = "1 us", .most = "60 s", .fallback = "20 ms"},

    {.path = "tuned", .type = T::block, .example = "tuned:", .meaning = "What `driftglow tune` found out; `driftglow fly` carries it into the duty's interval. Remove the block to fly without"},
    {.path = "tuned.readings", .type = T::text, .need = required, .example = "plankton_bench.yaml", .meaning = "The readings that it comes from"},
    {.path = "tuned.unknowns", .type = T::blocks, .need = required, .example = "- {key: drive.driver.capacitor, value: 12.1 nF, uncertainty: 0.1 nF}", .meaning = "The values that were tuned"},
    {.path = "tuned.unknowns[].key", .type = T::text, .need = required, .example = "drive.driver.capacitor", .meaning = "A key of this scenario by its path, as in a study"},
    {.path = "tuned.unknowns[].value", .type = T::text, .need = required, .example = "12.1 nF", .meaning = "Its tuned value, as it stands in the scenario"},
    {.path = "tuned.unknowns[].uncertainty", .type = T::text, .need = required, .example = "0.1 nF", .meaning = "Standard deviation that is left, in the unit of `value`"},
    {.path = "tuned.unknowns[].correlations", .type = T::values, .example = "[0.12, -0.4]", .meaning = "With each of the unknowns before it in the list", .otherwise = "none"},

    {.path = "study", .type = T::block, .example = "study:", .meaning = "The keys of a study file, for `driftglow vary`; there they stand at the left edge, without `study.`"},
    {.path = "study.title", .type = T::text, .example = "coil spacing and supply", .meaning = "Free text for the head of the report",
     .otherwise = "the file's name"},
    {.path = "study.format", .type = T::count, .example = "1", .meaning = "Version of the form in which the study is written",
     .least = "1", .most = store::newest_form, .fallback = "1"},
    {.path = "study.scenario", .type = T::text, .need = required, .example = "plankton_column.yaml", .meaning = "The scenario that is varied, its path counted from the study's folder"},
    {.path = "study.vary", .type = T::blocks, .need = required, .example = "vary:", .meaning = "What is varied; each by itself, with the others"},
    {.path = "study.vary[].name", .type = T::name, .example = "spacing", .meaning = "Its name in tables", .otherwise = "its key"},
    {.path = "study.vary[].key", .type = T::text, .need = required, .example = "drive.coils[lower].height",
     .meaning = "A key of the scenario with one number or choice, by its path; items of a list by name or by number from 0", .unless = "links", .excludes = "links"},
    {.path = "study.vary[].links", .type = T::blocks, .need = required, .example = "links:", .meaning = "Several keys that move together", .unless = "key", .excludes = "key"},
    {.path = "study.vary[].links[].key", .type = T::text, .need = required, .example = "drive.coils[upper].height", .meaning = "As `vary[].key`"},
    {.path = "study.vary[].links[].factor", .type = T::number, .example = "0.5", .meaning = "The key holds offset + factor times what is varied",
     .least = "-1e9", .most = "1e9", .fallback = "1", .excludes = "values"},
    {.path = "study.vary[].links[].offset", .type = T::text, .example = "160 mm", .meaning = "Added to it, in the unit of what is varied", .otherwise = "nothing is added", .excludes = "values"},
    {.path = "study.vary[].links[].values", .type = T::values, .example = "[0.125 mm, 0.112 mm]", .meaning = "The key's values instead of a rule, one for each of `vary[].values`", .excludes = "factor"},
    {.path = "study.vary[].values", .type = T::values, .need = required, .example = "[80 mm, 100 mm]", .meaning = "The values or choices that it takes", .unless = "from", .excludes = "from"},
    {.path = "study.vary[].from", .type = T::text, .need = required, .example = "80 mm", .meaning = "Where it begins; the least of a sample or a search", .unless = "values", .excludes = "values"},
    {.path = "study.vary[].to", .type = T::text, .example = "160 mm", .meaning = "Where it ends, in the unit of `from`", .otherwise = "`values` is given", .excludes = "values"},
    {.path = "study.vary[].steps", .type = T::count, .example = "5", .meaning = "Values of a grid from `from` to `to`, both counted", .least = "2", .most = "1000", .fallback = "5"},
    {.path = "study.vary[].scale", .type = T::choice, .example = "linear", .meaning = "linear: equal steps; logarithmic: equal ratios, both ends above 0", .choices = {"linear", "logarithmic"}, .fallback = "linear"},
    {.path = "study.design", .type = T::block, .example = "design:", .meaning = "Which combinations are tried"},
    {.path = "study.design.kind", .type = T::choice, .example = "grid",
     .meaning = "grid: every combination; latin_hypercube and sobol: spread samples; sensitivity: a sample from which Sobol' indices follow; search: the best by one goal",
     .choices = {"grid", "latin_hypercube", "sobol", "sensitivity", "search"}, .fallback = "grid"},
    {.path = "study.design.samples", .type = T::count, .example = "64",
     .meaning = "Designs of a sample, or the most of a search; of `sensitivity` base points, each of which takes as many designs as things are varied and two more",
     .least = "2", .most = "100000", .fallback = "64"},
    {.path = "study.flights", .type = T::block, .example = "flights:", .meaning = "How often designs fly; replicates of one number share their random numbers in all designs"},
    {.path = "study.flights.replicates", .type = T::count, .example = "32", .meaning = "What every design flies at least", .least = "2", .most = "100000", .fallback = "32"},
    {.path = "study.flights.most", .type = T::count, .example = "2000", .meaning = "What a design flies at most", .least = "2", .most = "1000000", .fallback = "1024"},
    {.path = "study.flights.target_interval", .type = T::fraction, .example = "1 %",
     .meaning = "Wanted half width of the 95 % interval of the goals, in the output's own unit; with `spend: ranks` that of differences", .least = "0", .most = "1e9",
     .otherwise = "every design flies `replicates`, with `spend: ranks` up to `most`"},
    {.path = "study.flights.spend", .type = T::choice, .example = "ranks",
     .meaning = "all: every design to the wanted interval; ranks: only where a difference between neighbours in rank, or from the best, is undecided", .choices = {"all", "ranks"}, .fallback = "all"},
    {.path = "study.outputs", .type = T::blocks, .need = required, .example = "outputs:", .meaning = "What is looked at, one column each"},
    {.path = "study.outputs[].name", .type = T::name, .need = required, .example = "duty", .meaning = "Its name in tables"},
    {.path = "study.outputs[].path", .type = T::text, .need = required, .example = "flight.tag_designs[plankton].fits[yellow-green].duty",
     .meaning = "Where it stands in summary.json (`flight.`) or `driftglow sheet --json` (`sheet.`); items of a list by name or by number from 0, `[4..]` sums those from number 4 on"},
    {.path = "study.goal", .type = T::blocks, .example = "goal:", .meaning = "What designs are ranked by; two goals give a Pareto set", .otherwise = "the first output, the most first"},
    {.path = "study.goal[].output", .type = T::name, .need = required, .example = "duty", .meaning = "Name of an output"},
    {.path = "study.goal[].want", .type = T::choice, .example = "most", .meaning = "most or least of it", .choices = {"most", "least"}, .fallback = "most"},
    {.path = "study.subject_to", .type = T::blocks, .example = "subject_to:", .meaning = "Limits that a design has to keep"},
    {.path = "study.subject_to[].output", .type = T::name, .need = required, .example = "power", .meaning = "Name of an output"},
    {.path = "study.subject_to[].least", .type = T::fraction, .example = "0.95", .meaning = "Its mean may not be less, in the output's own unit", .least = "-1e12", .most = "1e12", .otherwise = "no such limit"},
    {.path = "study.subject_to[].most", .type = T::fraction, .example = "5", .meaning = "Its mean may not be more", .least = "-1e12", .most = "1e12", .otherwise = "no such limit"},

    {.path = "bench", .type = T::block, .example = "bench:", .meaning = "The keys of a readings file, for `driftglow tune`; there they stand at the left edge, without `bench.`"},
    {.path = "bench.title", .type = T::text, .example = "first evening at the bench", .meaning = "Free text for the head of the report", .otherwise = "the file's name"},
    {.path = "bench.format", .type = T::count, .example = "1", .meaning = "Version of the form in which the readings are written",
     .least = "1", .most = store::newest_form, .fallback = "1"},
    {.path = "bench.unknowns", .type = T::blocks, .need = required, .example = "- {key: drive.driver.capacitor, tolerance: 5 %}", .meaning = "What the readings shall correct"},
    {.path = "bench.unknowns[].key", .type = T::text, .need = required, .example = "air.flow_rate",
     .meaning = "A key with one number that stands in the scenario, by its path; items of a list by name or by number from 0"},
    {.path = "bench.unknowns[].tolerance", .type = T::text, .example = "5 %",
     .meaning = "How far the built value may be from the scenario's to either side, every value within alike: a percentage of it (of a share: points), or in its unit",
     .otherwise = "the scenario's own tolerance of a capacitor; else needed"},
    {.path = "bench.flights", .type = T::block, .example = "flights:", .meaning = "How duty, flashes and stuck share are simulated"},
    {.path = "bench.flights.replicates", .type = T::count, .example = "32", .meaning = "Flown at each set of values, the same random numbers every time", .least = "4", .most = "100000", .fallback = "32"},
    {.path = "bench.readings", .type = T::blocks, .need = required, .example = "- {name: coils on the meter, inductance: 209 uH, at: 10 kHz, uncertainty: 1 %}", .meaning = "What was read; each holds one quantity from `resonance` on, its uncertainty and where it was read"},
    {.path = "bench.readings[].name", .type = T::name, .need = required, .example = "coils on the meter", .meaning = "Its name in tables"},
    {.path = "bench.readings[].uncertainty", .type = T::text, .need = required, .example = "1 %",
     .meaning = "Standard uncertainty of the value, in its unit or as a percentage of it (of a duty or share: points)"},
    {.path = "bench.readings[].tag", .type = T::name, .example = "plankton", .meaning = "The tag design that was measured", .otherwise = "the drive is meant, or the only design"},
    {.path = "bench.readings[].tags_measured", .type = T::count, .example = "3", .meaning = "The value is the mean over so many tags; each has its own L, C and LED within the design's tolerances",
     .least = "1", .most = "10000", .fallback = "1"},
    {.path = "bench.readings[].fit", .type = T::text, .example = "yellow-green", .meaning = "The emitter or pair that it carried", .otherwise = "the design's first"},
    {.path = "bench.readings[].circuit", .type = T::name, .example = "main", .meaning = "The drive's circuit", .otherwise = "the first"},
    {.path = "bench.readings[].coil", .type = T::name, .example = "upper", .meaning = "One drive coil: on the meter by itself; or the one from whose middle a distance counts, along its axis", .otherwise = "the whole circuit, or `place`"},
    {.path = "bench.readings[].at", .type = T::quantity, .example = "10 kHz", .meaning = "The meter's frequency, for inductance and resistance",
     .dimension = D::frequency, .least = "10 Hz", .most = "30 MHz", .otherwise = "needed there"},
    {.path = "bench.readings[].place", .type = T::place, .example = "[0 mm, 0 mm, 160 mm]", .meaning = "Of the search coil's middle, the held tag or the anemometer, or where a distance begins",
     .dimension = D::length, .least = "-20 m", .most = "40 m", .otherwise = "the middle of the vessel"},
    {.path = "bench.readings[].axis", .type = T::direction, .example = "[0, 0, 1]", .meaning = "Of the search coil or held tag, or of an anemometer that sees one direction, or along which a distance counts", .otherwise = "upright; air speed: all directions together"},
    {.path = "bench.readings[].turns", .type = T::number, .example = "10", .meaning = "Of the search coil", .least = "0.1", .most = "100000", .otherwise = "needed there"},
    {.path = "bench.readings[].area", .type = T::quantity, .example = "12.6 cm2", .meaning = "Of one turn of the search coil, taken as round",
     .dimension = D::area, .least = "1 mm2", .most = "1 m2", .otherwise = "needed there"},
    {.path = "bench.readings[].falls", .type = T::choice, .example = "along", .meaning = "How the tag falls or hovers: along its coil's axis, across it, or turning through all directions", .choices = {"along", "across", "turning"}, .fallback = "turning"},
    {.path = "bench.readings[].tags_inside", .type = T::choice, .example = "none", .meaning = "What is in the vessel while the supply current is read: no tags, all with their LEDs dark, or all lit", .choices = {"none", "dark", "lit"}, .fallback = "none"},
    {.path = "bench.readings[].resonance", .type = T::quantity, .example = "101 kHz", .meaning = "Frequency of the tag's tank or, without `tag`, of the drive as it runs without tags (a bridge at a given frequency: of coils and capacitor)",
     .dimension = D::frequency, .least = "1 kHz", .most = "100 MHz", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].bandwidth", .type = T::quantity, .example = "9.8 kHz", .meaning = "Of the tag's tank or the drive's between its half-power points, at a small signal",
     .dimension = D::frequency, .least = "1 Hz", .most = "100 MHz", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].inductance", .type = T::quantity, .example = "209 uH", .meaning = "On a meter, in series with its resistance: of a tag's coil, a drive coil or a circuit without its capacitor",
     .dimension = D::inductance, .least = "1 nH", .most = "100 H", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].resistance", .type = T::quantity, .example = "497 mohm", .meaning = "The same meter's resistance",
     .dimension = D::resistance, .least = "0.01 mohm", .most = "1000 kohm", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].search_coil_voltage", .type = T::quantity, .example = "27.5 mV", .meaning = "Rms voltage of the search coil, without tags",
     .dimension = D::voltage, .least = "1 uV", .most = "10 kV", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].first_light_distance", .type = T::quantity, .example = "91 mm", .meaning = "At which a tag, held along the line and brought nearer, first lights",
     .dimension = D::length, .least = "0 mm", .most = "10 m", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].first_light_supply", .type = T::quantity, .example = "13.2 V", .meaning = "Supply voltage, turned up, at which the held tag first lights",
     .dimension = D::voltage, .least = "0 V", .most = "1000 V", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].supply_current", .type = T::quantity, .example = "5.3 mA", .meaning = "What the supply gives to the drive",
     .dimension = D::current, .least = "1 uA", .most = "1000 A", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].air_speed", .type = T::quantity, .example = "2.4 m/s", .meaning = "Mean speed of the air there", .dimension = D::speed, .least = "-100 m/s", .most = "100 m/s", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].terminal_speed", .type = T::quantity, .example = "1.9 m/s", .meaning = "At which the tag falls in still air", .dimension = D::speed, .least = "0.01 m/s", .most = "100 m/s", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].hover_height", .type = T::quantity, .example = "210 mm", .meaning = "Of the centre of a tag that hovers on the upright line through `place`", .dimension = D::length, .least = "0 mm", .most = "20 m", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].duty", .type = T::fraction, .example = "44 %", .meaning = "Share of the time for which a tag glows, mean over the tags, counted from video", .least = "0", .most = "1", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].flashes_per_second", .type = T::number, .example = "8.1", .meaning = "Times a second that a tag comes on, counted from video", .least = "0", .most = "10000", .otherwise = "another quantity is given"},
    {.path = "bench.readings[].stuck_share", .type = T::fraction, .example = "4 %", .meaning = "Share of the tags that are stuck, on average over time", .least = "0", .most = "1", .otherwise = "another quantity is given"},
};
// clang-format on

std::string_view noun(const Key& key) {
  switch (key.type) {
    case T::block:
      return "a block of keys";
    case T::blocks:
      return "a list of blocks";
    case T::blocks_or_names:
      return "a list of names and blocks";
    case T::fits:
      return "a list of names and pairs";
    case T::counts_by_fit:
      return "a block of fits with whole numbers";
    case T::values:
      return "a list of values";
    case T::text:
      return "text";
    case T::name:
      return "a name of letters, digits, space and `_ . -`";
    case T::choice:
      return "a choice";
    case T::count:
      return "a whole number";
    case T::number:
      return "a pure number";
    case T::fraction:
      return "a share, as a percentage or a pure number,";
    case T::quantity:
      return info(*key.dimension).noun;
    case T::sense:
      return "`+1` or `-1`";
    case T::light:
      return "an illuminance";
    case T::wire:
      return "a wire's bare diameter or gauge";
    case T::place:
      return "three lengths";
    case T::direction:
    case T::direction_or_choice:
      return "three pure numbers, not all 0,";
    case T::curve:
      return "a list of pairs";
    case T::chromaticity:
      return "two pure numbers from 0 to 1";
  }
  throw LogicError("unknown type of key");
}

std::string choices_text(const Key& key) {
  std::string list;
  for (std::size_t i = 0; i < key.choices.size(); ++i) {
    const bool last = i + 1 == key.choices.size();
    list += fmt::format("{}`{}`", i == 0 ? "" : last ? " or " : ", ", key.choices[i]);
  }
  return list;
}

constexpr std::size_t longest_key = 100;  // a longer word is no misspelt key
constexpr std::size_t shortest_part = 4;  // a shorter one is part of too many keys

std::string or_choices(const Key& key) {
  return key.choices.empty() ? "" : choices_text(key) + " or ";
}

}  // namespace

std::string_view Key::name() const {
  const auto dot = path.rfind('.');
  return dot == std::string_view::npos ? path : path.substr(dot + 1);
}

std::string_view Key::parent() const {
  const auto dot = path.rfind('.');
  return dot == std::string_view::npos ? std::string_view() : path.substr(0, dot);
}

std::string Key::inside() const {
  const bool list = type == KeyType::blocks || type == KeyType::blocks_or_names;
  return std::string(path) + (list ? "[]" : "");
}

std::span<const Key> keys() {
  return table;
}

std::string_view file_of(std::string_view path) {
  for (const std::string_view file : {study_path, bench_path})
    if (path == file || (path.starts_with(file) && path[file.size()] == '.')) return file;
  return "";
}

std::vector<const Key*> keys_below(std::string_view parent) {
  std::vector<const Key*> result;
  for (const Key& key : table)
    if (key.parent() == parent && key.path != study_path && key.path != bench_path) result.push_back(&key);
  return result;
}

std::string expectation(const Key& key) {
  switch (key.type) {
    case T::block: {
      const Key& first = *keys_below(key.path).front();
      const bool nested = first.type == T::block || first.type == T::blocks;
      return nested ? fmt::format("{} such as `{}`", noun(key), first.example)
                    : fmt::format("{} such as `{}: {}`", noun(key), first.name(), first.example);
    }
    case T::text:
    case T::sense:
      return std::string(noun(key));
    case T::choice:
      return key.choices.size() == 1
                 ? fmt::format("`{}`, the only choice of this version", key.choices.front())
                 : choices_text(key);
    case T::fraction:
      return fmt::format("{} such as `{}`", noun(key), key.example);
    case T::wire:
      return fmt::format("{} such as `{}` or `AWG 32`", noun(key), key.example);
    case T::light:
    case T::direction_or_choice:
      return fmt::format("{}{} such as `{}`", or_choices(key), noun(key),
                         key.type == T::light ? "2e-6 lx" : key.example);
    default:
      return fmt::format("{} such as `{}`", noun(key), key.example);
  }
}

std::string expectation_with_range(const Key& key) {
  const std::string range = key.least == key.most
                                ? fmt::format("`{}`", key.least)
                                : fmt::format("{} from `{}` to `{}`", noun(key), key.least, key.most);
  return fmt::format("{}{}{}", range, key.range_reason.empty() ? "" : ", because ", key.range_reason);
}

std::optional<std::string> nearest_word(std::string_view word, std::span<const std::string> words) {
  std::optional<std::string> best;
  if (word.size() > longest_key) return best;
  std::size_t best_distance = std::max<std::size_t>(1, word.size() / 3) + 1;
  for (const std::string& other : words) {
    std::vector<std::vector<std::size_t>> cost(word.size() + 1, std::vector<std::size_t>(other.size() + 1));
    for (std::size_t i = 0; i <= word.size(); ++i) cost[i][0] = i;
    std::iota(cost[0].begin(), cost[0].end(), std::size_t{0});
    for (std::size_t i = 1; i <= word.size(); ++i)
      for (std::size_t j = 1; j <= other.size(); ++j) {
        const std::size_t change = word[i - 1] == other[j - 1] ? 0 : 1;
        cost[i][j] = std::min({cost[i - 1][j] + 1, cost[i][j - 1] + 1, cost[i - 1][j - 1] + change});
        if (i > 1 && j > 1 && word[i - 1] == other[j - 2] && word[i - 2] == other[j - 1])
          cost[i][j] = std::min(cost[i][j], cost[i - 2][j - 2] + 1);
      }
    const std::size_t distance = cost[word.size()][other.size()];
    if (distance < best_distance) {
      best_distance = distance;
      best = other;
    }
  }
  if (best || word.size() < shortest_part) return best;
  const auto holds_word = [&](const std::string& other) { return other.find(word) != std::string::npos; };
  if (std::count_if(words.begin(), words.end(), holds_word) == 1)
    best = *std::find_if(words.begin(), words.end(), holds_word);
  return best;
}

}  // namespace driftglow::scenario
