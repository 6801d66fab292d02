#include "sim/scenario/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <fstream>
#include <map>
#include <set>

#include "models/coil/conductor_inductance.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/light/visibility.hpp"
#include "sim/library/library.hpp"
#include "sim/library/wire.hpp"
#include "sim/scenario/air_reader.hpp"
#include "sim/scenario/check.hpp"
#include "sim/scenario/drive_parts.hpp"
#include "sim/scenario/edit.hpp"
#include "sim/scenario/fit_name.hpp"
#include "sim/scenario/reading.hpp"
#include "sim/store/digest.hpp"

namespace driftglow::scenario {
namespace {

using constant::pi;

int whole(double number) {
  return std::isfinite(number) ? int(number) : 0;
}

Emitter emitter_of(const Block& entry) {
  Emitter emitter;
  emitter.name = entry.text("name");
  emitter.colour = entry.text("colour");
  emitter.points = entry.pairs("points");
  emitter.intensity = entry.number("luminous_intensity");
  emitter.intensity_current = entry.number("at_current");
  emitter.junction_capacitance = entry.number("junction_capacitance");
  emitter.reverse_breakdown = entry.number("reverse_breakdown");
  emitter.reverse_leakage = entry.number("reverse_leakage");
  const Block* ratings = entry.block("ratings");
  const auto rating = [&](std::string_view key) { return ratings ? ratings->number(key) : std::nan(""); };
  emitter.mean_current_rating = rating("mean_current");
  emitter.peak_current_rating = rating("peak_current");
  emitter.reverse_voltage_rating = rating("reverse_voltage");
  const Pairs chromaticity = entry.pairs("chromaticity");
  if (!chromaticity.empty()) emitter.chromaticity = {chromaticity[0].first, chromaticity[0].second};
  return emitter;
}

// Turns checked blocks into the scenario and checks values against each other.
class Binder {
 public:
  Binder(const Block& root, std::filesystem::path folder, Faults& faults)
      : root_(root), folder_(std::move(folder)), faults_(faults) {}

  Scenario run() {
    scenario_.title = root_.text("title");
    if (const Block* block = root_.block("ambient")) ambient(*block);
    // What is not a number lets nothing be found outside it: one fault raises no second one.
    scenario_.vessel = {radius_, height_};
    if (const Block* block = root_.block("vessel")) vessel(*block);
    if (const Block* block = root_.block("drive")) drive(*block);
    own_emitters();
    unique_names(root_.blocks("tags"));
    for (const Block* block : root_.blocks("tags")) tag(*block);
    air();
    if (const Block* block = root_.block("flight")) flight(*block);
    packing();
    if (root_.given("tuned")) tuned();
    return std::move(scenario_);
  }

 private:
  void fault(const Block& block, std::string_view key, const std::string& sentence) {
    faults_.add(block.place(key), block.path(key), sentence);
  }

  void tuned() {
    const Block* block = root_.block("tuned");
    if (block == nullptr) return;
    TunedValues found{block->text("readings"), {}};
    for (const Block* one : block->blocks("unknowns")) tuned_value(*one, found.values);
    scenario_.tuned = std::move(found);
  }

  void tuned_value(const Block& block, std::vector<TunedValue>& values) {
    const auto value = number_and_unit(block.text("value"));
    const auto deviation = number_and_unit(block.text("uncertainty"));
    if (!value)
      return fault(block, "value",
                   fmt::format("value {} is no number with a unit; expected what `driftglow tune` wrote",
                               quote(block.text("value"))));
    if (!deviation || deviation->unit != value->unit || !(deviation->number > 0.0))
      return fault(
          block, "uncertainty",
          fmt::format("value {} is no uncertainty above 0 in the unit of {}; expected what `driftglow tune` "
                      "wrote",
                      quote(block.text("uncertainty")), quote(block.text("value"))));
    TunedValue tuned{block.text("key"), value->unit, value->number, deviation->number, {}, ""};
    tuned.where = faults_.beginning(block.place("value"), block.path("value"));
    for (const auto& item : block.values("correlations")) {
      const auto number = parse_number(item.text);
      const double* correlation = std::get_if<double>(&number);
      if (correlation == nullptr || std::fabs(*correlation) > 1.0) {
        faults_.add(
            item.place, block.path("correlations"),
            fmt::format("value {} is no correlation; expected a number from -1 to 1", quote(item.text)));
        return;
      }
      tuned.correlations.push_back(*correlation);
    }
    if (!tuned.correlations.empty() && tuned.correlations.size() != values.size())
      return fault(block, "correlations",
                   fmt::format("the list has {} values; expected {}, one for each of the unknowns before it",
                               tuned.correlations.size(), values.size()));
    tuned.correlations.resize(values.size(), 0.0);
    values.push_back(std::move(tuned));
  }

  void unique_names(const std::vector<const Block*>& blocks) {
    std::map<std::string, Place> seen;
    for (const Block* block : blocks) {
      const std::string name = block->text("name");
      if (name.empty()) continue;
      const auto [other, fresh] = seen.emplace(name, block->place("name"));
      if (!fresh)
        fault(*block, "name",
              fmt::format("the name `{}` is already taken on line {}; expected another name", name,
                          other->second.line));
    }
  }

  void ambient(const Block& block) {
    static const std::map<std::string, double> thresholds = {{"dark_night", light::threshold_dark_night},
                                                             {"minor_light", light::threshold_minor_light},
                                                             {"bright_light", light::threshold_bright_light},
                                                             {"day", light::threshold_day}};
    const auto named = thresholds.find(block.text("light"));
    scenario_.ambient = {block.number("temperature"), block.number("pressure"),
                         named == thresholds.end() ? block.number("light") : named->second,
                         block.number("viewing_distance")};
  }

  void vessel(const Block& block) {
    scenario_.vessel = {block.number("inner_diameter"), block.number("height")};
    radius_ = 0.5 * scenario_.vessel.inner_diameter;
    wall_height_ = scenario_.vessel.height;
    if (const Block* air = root_.block("air"))
      scenario_.vessel.height = std::max(wall_height_, air->maybe("lid_height").value_or(wall_height_));
    height_ = scenario_.vessel.height;
    if (const auto top = block.maybe("top_diameter")) taper(block, *top);
  }

  // Wider or steeper cones let the air leave the wall, which no wall function knows to tell; half-angles
  // where a diffuser stalls begin near 4 degrees, those of nozzles well above 15.
  void taper(const Block& block, double top) {
    constexpr double narrowest = 0.7, widest = 1.3, steepest = 15.0;
    const double ratio = top / scenario_.vessel.inner_diameter, slope = (0.5 * top - radius_) / wall_height_;
    const double angle = std::atan(std::fabs(slope)) * 180.0 / pi;
    if (!std::isfinite(ratio) || !std::isfinite(slope)) return;  // told by the key table
    if (!(ratio >= narrowest && ratio <= widest)) {
      fault(block, "top_diameter",
            fmt::format("value is {:.2f} times the inner diameter of {}; expected {} to {} times that", ratio,
                        millimetres(2.0 * radius_), narrowest, widest));
    } else if (angle > steepest) {
      fault(
          block, "top_diameter",
          fmt::format("the wall would lean by {:.1f} degrees; expected at most {} degrees", angle, steepest));
    } else {
      scenario_.vessel.slope = slope;
    }
  }

  void drive(const Block& block) {
    if (const Block* field = block.block("field")) {
      if (field->given("file")) {
        scenario_.drive = measured(*field);
        return;
      }
      UniformField uniform{
          field->number("flux_density"), field->number("frequency"), field->triple("axis"), {}};
      if (field->has_triple("quadrature_axis")) uniform.quadrature_axis = field->triple("quadrature_axis");
      scenario_.drive = uniform;
      return;
    }
    CoilDrive coil_drive{};
    if (const Block* block_driver = block.block("driver")) driver(*block_driver, coil_drive);
    circuits(block, coil_drive);
    unique_names(block.blocks("coils"));
    for (const Block* coil_block : block.blocks("coils"))
      coil_drive.coils.push_back(coil(*coil_block, coil_drive));
    for (const Block* circuit : block.blocks("circuits")) circuit_has_coils(*circuit, coil_drive);
    unique_names(block.blocks("conductors"));
    for (const Block* metal : block.blocks("conductors")) coil_drive.conductors.push_back(conductor(*metal));
    apart(block.blocks("coils"), block.blocks("conductors"), coil_drive);
    scenario_.drive = coil_drive;
  }

  MeasuredField measured(const Block& field) {
    MeasuredField result{"", field.number("frequency"), field.number("factor"), std::nullopt};
    const std::string file = field.text("file");
    if (!file.empty()) result.file = (folder_ / file).string();
    result.where = faults_.beginning(field.place("file"), field.path("file"));
    if (const Block* coil = field.block("search_coil"); coil && field.given("search_coil"))
      result.search_coil = MeasuredField::SearchCoil{coil->number("turns"), coil->number("area")};
    return result;
  }

  void driver(const Block& block, CoilDrive& coil_drive) {
    if (block.text("kind") == "given_current") {
      coil_drive.driver = GivenCurrent{block.number("current"), block.number("frequency")};
      return;
    }
    if (const Block* tolerances = block.block("tolerances"))
      coil_drive.tolerances = {tolerances->number("inductance"), tolerances->number("capacitance")};
    if (block.text("kind") == "voltage_fed_series") {
      VoltageFedSeries bridge{};
      bridge.bridge = block.text("bridge") == "full" ? driver::Bridge::full : driver::Bridge::half;
      bridge.switch_resistance = block.number("switch_resistance");
      bridge.frequency = block.maybe("frequency");
      own_tank(block, bridge);
      coil_drive.driver = bridge;
      return;
    }
    CurrentFedPushPull driver{};
    driver.voltage_drop = block.number("drop");
    own_tank(block, driver);
    const std::string chokes = block.text("chokes");
    driver.chokes = chokes == "two"          ? Chokes::two
                    : chokes == "centre_tap" ? Chokes::centre_tap
                                             : Chokes::ideal;
    driver.choke_inductance = block.maybe("choke_inductance").value_or(0);
    if (driver.voltage_drop >= driver.supply_voltage)
      fault(block, "drop",
            fmt::format("value takes the whole supply of {:.4g} V; expected less than the supply",
                        driver.supply_voltage));
    coil_drive.driver = driver;
  }

  template <class Driver>
  static void own_tank(const Block& block, Driver& driver) {
    driver.supply_voltage = block.number("supply");
    driver.capacitance = block.number("capacitor");
    driver.capacitor_loss_tangent = block.number("capacitor_loss_tangent");
    driver.supply_current_rating = block.maybe("supply_current_rating");
    driver.capacitor_voltage_rating = block.maybe("capacitor_voltage_rating");
    driver.capacitor_current_rating = block.maybe("capacitor_current_rating");
  }

  void circuits(const Block& block, CoilDrive& drive) {
    const auto blocks = block.blocks("circuits");
    unique_names(blocks);
    const bool measured = std::holds_alternative<GivenCurrent>(drive.driver);
    for (const Block* circuit : blocks) {
      drive.circuits.push_back(
          {circuit->text("name"),
           circuit->text("connection") == "parallel" ? Connection::parallel : Connection::series,
           circuit->number("phase"), circuit->maybe("capacitor"), circuit->number("current_ratio"),
           where_tuned(block, circuit)});
      if (measured && circuit->given("capacitor"))
        fault(*circuit, "capacitor", "a given current needs no capacitor; expected no such key");
      if (!measured && circuit->given("current_ratio"))
        fault(*circuit, "current_ratio",
              "the driver finds this circuit's current; expected the key only with `kind: given_current`");
    }
    if (!drive.circuits.empty()) return;
    std::string name = "main";
    for (const Block* coil_block : block.blocks("coils"))
      if (coil_block->given("circuit")) {
        name = coil_block->text("circuit");
        break;
      }
    drive.circuits.push_back({name, Connection::series, 0, std::nullopt, 1, where_tuned(block, nullptr)});
  }

  // The circuit's own capacitor, else the driver's, else the driver.
  std::string where_tuned(const Block& drive, const Block* circuit) const {
    if (circuit && circuit->given("capacitor"))
      return faults_.beginning(circuit->place("capacitor"), circuit->path("capacitor"));
    if (circuit) return faults_.beginning(circuit->place(), circuit->path());
    const Block* driver = drive.block("driver");
    if (!driver) return faults_.beginning(drive.place(), drive.path());
    return driver->given("capacitor")
               ? faults_.beginning(driver->place("capacitor"), driver->path("capacitor"))
               : faults_.beginning(driver->place(), driver->path());
  }

  // Everything that carries current against everything before it; the meshes of one cage share their rods.
  void apart(const std::vector<const Block*>& coils, const std::vector<const Block*>& conductors,
             const CoilDrive& drive) {
    if (!faults_.empty()) return;
    struct Part {
      const Block* block;
      std::vector<coil::ConductorPath> paths;
      double half_thickness;  // m
    };
    std::vector<Part> parts;
    for (std::size_t i = 0; i < coils.size(); ++i) {
      const auto placed = scenario::placed(drive.coils[i]);
      parts.push_back({coils[i],
                       {coil::TurnPath{placed.placement, placed.coil.turns}},
                       0.5 * placed.coil.wire.enamelled_diameter});
    }
    for (std::size_t i = 0; i < conductors.size(); ++i) {
      Part part{conductors[i], {}, 0.0};
      for (const auto& loop : loops_of(drive.conductors[i])) {
        part.paths.push_back(loop.path());
        part.half_thickness = loop.half_thickness();
      }
      parts.push_back(std::move(part));
    }
    for (std::size_t i = 1; i < parts.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        // To rounding: coils may lie against each other.
        const double least = (parts[i].half_thickness + parts[j].half_thickness) * (1.0 - 1e-9);
        const bool meet = std::any_of(parts[i].paths.begin(), parts[i].paths.end(), [&](const auto& path) {
          return std::any_of(parts[j].paths.begin(), parts[j].paths.end(),
                             [&](const auto& other) { return coil::closer_than(path, other, least); });
        });
        if (!meet) continue;
        faults_.add(
            parts[i].block->place(), parts[i].block->path(),
            fmt::format("it would run through `{}` of line {}; expected them apart, by another place or "
                        "diameter",
                        parts[j].block->text("name"), parts[j].block->place().line));
        break;
      }
    }
  }

  void circuit_has_coils(const Block& block, const CoilDrive& drive) {
    const std::string name = block.text("name");
    const auto in_it = [&](const Coil& coil) { return coil.circuit == name; };
    if (!name.empty() && std::none_of(drive.coils.begin(), drive.coils.end(), in_it))
      faults_.add(
          block.place(), block.path(),
          fmt::format("no coil belongs to the circuit `{0}`; expected a coil with `circuit: {0}`", name));
  }

  Coil coil(const Block& block, const CoilDrive& drive) {
    Coil coil;
    coil.name = block.text("name");
    coil.circuit = block.given("circuit") ? block.text("circuit") : drive.circuits.front().name;
    if (!coil.circuit.empty() && !find_named(drive.circuits, coil.circuit)) {
      std::vector<std::string> names;
      for (const Circuit& circuit : drive.circuits) names.push_back(circuit.name);
      fault(block, "circuit",
            fmt::format("value {} is none of the circuits; expected {}, or another item of `circuits`",
                        quote(coil.circuit), in_ticks(names)));
    }
    coil.centre = block.triple("centre");
    if (!block.given("centre")) coil.centre = {0, 0, block.number("height")};
    coil.axis = block.triple("axis");
    coil.sense = block.number("sense") < 0 ? -1 : 1;
    if (coil.axis[0] == 0 && coil.axis[1] == 0) {
      if (coil.axis[2] < 0) coil.sense = -coil.sense;
      coil.axis = {0, 0, 1};
    }
    coil.winding = winding(block, block.block("litz"));
    const bool on_axis = coil.centre[0] == 0 && coil.centre[1] == 0 && coil.axis[0] == 0 && coil.axis[1] == 0;
    on_axis ? outside_vessel(block, coil) : wires_outside_vessel(block, coil);
    return coil;
  }

  void outside_vessel(const Block& block, const Coil& coil) {
    const double turns_per_layer = std::ceil(coil.winding.turns / coil.winding.layers);
    const double half_length =
        0.5 * ((turns_per_layer - 1) * coil.winding.pitch + coil.winding.wire.enamelled_diameter);
    const double low = coil.centre[2] - half_length, high = coil.centre[2] + half_length;
    const bool beside = high > 0 && low < height_;
    const double wall = std::max(scenario_.vessel.radius_at(std::clamp(low, 0.0, height_)),
                                 scenario_.vessel.radius_at(std::clamp(high, 0.0, height_)));
    if (beside && 0.5 * coil.winding.inner_diameter <= wall)
      fault(block, "inner_diameter",
            fmt::format("the coil would lie inside the vessel's wall of {} inner diameter; expected a larger "
                        "coil, or a "
                        "height below the floor or above the lid",
                        millimetres(2 * wall)));
  }

  // What the models refuse in a part that is made from a block stands as a fault of that block.
  template <class Make>
  void refused_by_models(const Block& block, const Make& make) {
    if (!faults_.empty()) return;
    try {
      make();
    } catch (const InputError& error) {
      faults_.add(block.place(), block.path(), error.what());
    }
  }

  void wires_outside_vessel(const Block& block, const Coil& coil) {
    refused_by_models(block, [&] {
      const auto placed = scenario::placed(coil);
      const double wire = 0.5 * coil.winding.wire.enamelled_diameter;
      if (coil::enters(coil::TurnPath{placed.placement, placed.coil.turns},
                       {scenario_.vessel.widest_radius() + wire, -wire, height_ + wire}))
        fault(
            block, block.given("centre") ? "centre" : "height",
            fmt::format("the coil's wires would run through the vessel of {} x {}; expected them outside its "
                        "wall, by a larger coil or another place or axis",
                        millimetres(2 * scenario_.vessel.widest_radius()), millimetres(height_)));
    });
  }

  Conductor conductor(const Block& block) {
    static const std::map<std::string, MetalKind> metals = {{"copper", MetalKind::copper},
                                                            {"aluminium", MetalKind::aluminium},
                                                            {"brass", MetalKind::brass},
                                                            {"stainless_steel", MetalKind::stainless_steel}};
    Conductor conductor{};
    conductor.name = block.text("name");
    const auto metal = metals.find(block.text("metal"));
    if (metal != metals.end()) conductor.metal = metal->second;
    const double diameter = block.number("diameter");
    if (block.text("kind") == "cage") {
      conductor.shape = Cage{block.number("low"), block.number("high"), diameter, int(block.count("rods"))};
      if (block.number("low") >= block.number("high"))
        fault(block, "high", "value is not above `low`; expected more");
    } else {
      conductor.shape = Ring{block.number("height"), diameter};
    }
    if (const Block* section = block.block("section")) {
      if (section->given("diameter"))
        conductor.section = coil::RoundSection{section->number("diameter")};
      else
        conductor.section = coil::RectangularSection{section->number("width"), section->number("height")};
    }
    conductor.joint_resistance = block.number("joint_resistance");
    refused_by_models(block, [&] {
      for (const auto& loop : loops_of(conductor))
        if (const double half = loop.half_thickness();
            coil::enters(loop.path(), {scenario_.vessel.widest_radius() + half, -half, height_ + half})) {
          fault(
              block, "diameter",
              fmt::format(
                  "the metal would reach into the vessel of {} x {}; expected it outside, half its thickness "
                  "counted, by a larger diameter or another height",
                  millimetres(2 * radius_), millimetres(height_)));
          return;
        }
    });
    return conductor;
  }

  Winding winding(const Block& block, const Block* litz = nullptr) {
    Winding winding;
    winding.inner_diameter = block.number("inner_diameter");
    winding.turns = block.number("turns");
    winding.layers = int(block.count("layers"));
    winding.wire.bare_diameter = block.number("wire");
    if (litz) bundle(*litz, winding.wire);
    const double bare = winding.wire.bare_diameter;
    winding.wire.enamelled_diameter =
        block.maybe("enamelled_diameter")
            .value_or(bare > 0 && !litz ? library::enamelled_diameter(bare) : bare);
    if (winding.wire.enamelled_diameter < bare)
      fault(block, "enamelled_diameter",
            fmt::format("value is thinner than the bare wire of {}; expected more than that",
                        millimetres(bare)));
    winding.pitch = block.maybe("pitch").value_or(winding.wire.enamelled_diameter);
    if (winding.pitch < winding.wire.enamelled_diameter)
      fault(block, "pitch",
            fmt::format("turns would overlap at this pitch; expected at least the enamelled diameter of {}",
                        millimetres(winding.wire.enamelled_diameter)));
    if (winding.layers > winding.turns)
      fault(block, "layers",
            fmt::format("value {} is more than there are turns; expected at most {}", winding.layers,
                        std::floor(std::max(1., winding.turns))));
    return winding;
  }

  void bundle(const Block& block, Wire& wire) {
    const coil::Litz litz{int(block.count("strands")), block.number("strand"), block.number("lay_factor")};
    const double strand = litz.strand_diameter;
    // Area of the bundle over that of round strands three quarters filled: 1/0.75 = 1.155^2.
    constexpr double spread = 1.155;
    wire.bare_diameter = block.maybe("bundle_diameter")
                             .value_or(strand > 0 ? spread * std::sqrt(double(litz.strands)) *
                                                        library::enamelled_diameter(strand)
                                                  : strand);
    wire.litz = litz;
    refused_by_models(block, [&] { coil::check(litz, wire.bare_diameter); });
  }

  void own_emitters() {
    std::map<std::string, Place> seen;
    const auto items = root_.items("emitters");
    for (const BlockOrName& item : items) {
      const auto* named = std::get_if<NamedText>(&item);
      const Block* entry = named ? nullptr : std::get<std::shared_ptr<Block>>(item).get();
      const std::string name = named ? named->text : entry->text("name");
      const Place place = named ? named->place : entry->place("name");
      const auto [other, fresh] = seen.emplace(name, place);
      if (!fresh && !name.empty())
        faults_.add(place, "emitters",
                    fmt::format("the name `{}` is already taken on line {}; expected another name", name,
                                other->second.line));
      if (named && !find_named(library_emitters(), name)) unknown_emitter(place, "emitters", name);
      if (entry) {
        emitter_points(*entry);
        own_emitters_.push_back(emitter_of(*entry));
      }
    }
  }

  void emitter_points(const Block& entry) {
    const Pairs points = entry.pairs("points");
    for (std::size_t i = 0; i < points.size(); ++i) {
      if (points[i].first > 0 && points[i].second > 0 &&
          (i == 0 || (points[i].first > points[i - 1].first && points[i].second >= points[i - 1].second)))
        continue;
      fault(entry, "points",
            fmt::format(
                "pair {} does not rise; expected currents and voltages above 0, currents rising and voltages "
                "not falling",
                i + 1));
      return;
    }
    if (const Block* ratings = entry.block("ratings"))
      if (ratings->number("peak_current") < ratings->number("mean_current"))
        fault(*ratings, "peak_current", "value is below the mean current rating; expected at least that");
  }

  void unknown_emitter(Place place, const std::string& path, const std::string& name) {
    std::vector<std::string> names;
    for (const Emitter& emitter : own_emitters_) names.push_back(emitter.name);
    for (const Emitter& emitter : library_emitters())
      if (!find_named(own_emitters_, emitter.name)) names.push_back(emitter.name);
    const auto near = nearest_word(name, names);
    faults_.add(place, path,
                fmt::format("value {} is no emitter{}; expected one of {}", quote(name),
                            near ? fmt::format(", did you mean `{}`", *near) : "", in_ticks(names)));
  }

  void tag(const Block& block) {
    TagDesign design{};
    design.name = block.text("name");
    design.count = int(block.count("count"));
    const Block* receiver_block = block.block("receiver");
    if (receiver_block) design.receiver = receiver(*receiver_block);
    if (const Block* body_block = block.block("body"))
      design.body = body(*body_block);
    else
      design.body = stand_in_body();
    if (const Block* hold_block = block.block("hold")) design.hold = hold(*hold_block, block, design);
    fits_of(block, design);
    mix(block, design);
    if (receiver_block && block.block("body") && design.body.kind == BodyKind::solid)
      receiver_inside_body(*receiver_block, design);
    scenario_.tags.push_back(design);
  }

  // A held design needs no body: any sound one serves.
  static Body stand_in_body() {
    static const Block block = block_from_text("{radius: 1 mm, mass: 1 g}", "tags[].body", "stand-in body");
    return body_values(block);
  }

  static Body body_values(const Block& block) {
    Body body{};
    body.kind = block.text("kind") == "tracer" ? BodyKind::tracer : BodyKind::solid;
    const bool tracer = body.kind == BodyKind::tracer;
    body.radius = block.maybe("radius").value_or(tracer ? 0 : std::nan(""));
    if (tracer) {
      body.drag = SphereDrag{};
      body.wall_lift = WallLift::off;
      return body;
    }
    body.mass = block.number("mass");
    for (const Block* part : block.blocks("parts"))
      body.parts.push_back({part->text("name"), part->number("mass")});
    if (block.given("parts")) {
      body.mass = 0;
      for (const Part& part : body.parts) body.mass += part.mass;
    }
    double displaced = 4. / 3. * pi * std::pow(body.radius, 3);
    double inertia = 2. / 3.;
    body.drag = SphereDrag{};
    if (const Block* drag = block.block("drag")) {
      const std::string kind = drag->text("kind");
      if (kind != "sphere") displaced = 0;
      if (kind == "cage")
        body.drag = CageDrag{drag->number("coefficient_along"), drag->number("coefficient_across"),
                             drag->number("frontal_area")};
      if (kind == "disc") {
        body.drag = DiscDrag{drag->number("thickness")};
        inertia = 0.5;
      }
    }
    body.inertia = block.maybe("inertia").value_or(inertia);
    body.centre_offset = block.number("centre_offset");
    body.displaced_volume = block.maybe("displaced_volume").value_or(displaced);
    body.restitution = block.number("restitution");
    body.friction = block.number("friction");
    body.rolling_resistance = block.number("rolling_resistance");
    body.wall_lift = block.text("wall_lift") == "off" ? WallLift::off : WallLift::on;
    return body;
  }

  Body body(const Block& block) {
    const Body body = body_values(block);
    const bool too_large = body.radius >= scenario_.vessel.narrowest_radius() || 2 * body.radius >= height_;
    all_tags_fit_ = all_tags_fit_ && !too_large;
    if (too_large)
      fault(block, "radius",
            fmt::format("a tag of {} diameter does not fit the vessel of {} x {}; expected a smaller radius",
                        millimetres(2 * body.radius), millimetres(2 * scenario_.vessel.narrowest_radius()),
                        millimetres(height_)));
    if (body.kind == BodyKind::tracer) return body;
    constexpr double least_radius = 0.1e-3;
    if (body.radius < least_radius)
      fault(block, "radius", "value is too small for a solid body; expected at least `0.1 mm`");
    unique_names(block.blocks("parts"));
    if (block.given("parts") && !block.blocks("parts").empty() && body.mass <= 0)
      fault(block, "parts", "the parts weigh nothing; expected masses above 0");
    if (std::abs(body.centre_offset) >= body.radius)
      fault(block, "centre_offset", "value lies outside the body; expected less than its radius");
    if (const auto* disc = std::get_if<DiscDrag>(&body.drag))
      if (disc->thickness > 2 * body.radius)
        fault(*block.block("drag"), "thickness",
              "the disc is thicker than wide; expected less than the body's diameter");
    return body;
  }

  Receiver receiver(const Block& block) {
    if (block.given("threshold_flux_density"))
      return ThresholdReceiver{block.number("threshold_flux_density")};
    CircuitReceiver receiver{};
    receiver.winding = winding(block);
    receiver.capacitance = block.number("capacitor");
    receiver.loss_tangent = block.number("loss_tangent");
    if (const Block* tolerances = block.block("tolerances"))
      receiver.tolerances = {tolerances->number("inductance"), tolerances->number("capacitance"),
                             tolerances->number("led_voltage")};
    receiver.threshold_current = block.maybe("threshold_current");
    receiver.capacitor_rated_voltage = block.maybe("capacitor_rated_voltage");
    if (block.given("capacitor_class")) capacitor_class(block, receiver);
    return receiver;
  }

  // Default tolerances by common practice, no source: 5 % (J) for class 1 and film, 10 % (K) for class 2.
  static void capacitor_class(const Block& block, CircuitReceiver& receiver) {
    using driftglow::receiver::Dielectric;
    const std::string code = block.text("capacitor_class");
    const Dielectric dielectric = code == "polypropylene"          ? Dielectric::polypropylene
                                  : code == "polyester"            ? Dielectric::polyester
                                  : code == "C0G" || code == "U2J" ? Dielectric::class_1_ceramic
                                                                   : Dielectric::class_2_ceramic;
    constexpr double usual_rating = 50.0;  // V
    receiver.capacitor_class = {
        code, dielectric, receiver.capacitor_rated_voltage.value_or(usual_rating), {}};
    if (block.given("loss_tangent")) receiver.capacitor_class->own_loss_tangent = receiver.loss_tangent;
    const Block* tolerances = block.block("tolerances");
    if (!tolerances || !tolerances->given("capacitance"))
      receiver.tolerances.capacitance = dielectric == Dielectric::class_2_ceramic ? 0.1 : 0.05;
  }

  void receiver_inside_body(const Block& block, const TagDesign& design) {
    const auto* circuit = std::get_if<CircuitReceiver>(&design.receiver);
    if (!circuit) return;
    const Winding& winding = circuit->winding;
    const double outer = 0.5 * winding.inner_diameter + winding.layers * winding.wire.enamelled_diameter;
    if (outer > design.body.radius)
      fault(block, "inner_diameter",
            fmt::format("the coil reaches to a radius of {}, beyond the body's {}; expected a smaller coil "
                        "or a larger body",
                        millimetres(outer), millimetres(design.body.radius)));
  }

  Hold hold(const Block& block, const Block& tag_block, const TagDesign& design) {
    Hold hold{block.triple("place"), {}};
    if (block.has_triple("axis")) hold.axis = block.triple("axis");
    const double reach = tag_block.block("body") ? design.body.radius : 0;
    const double r = std::hypot(hold.place[0], hold.place[1]);
    const double apart = reach * std::hypot(1.0, scenario_.vessel.slope);
    if (r + apart > scenario_.vessel.radius_at(hold.place[2]) || hold.place[2] - reach < 0 ||
        hold.place[2] + reach > height_)
      fault(block, "place",
            fmt::format(
                "a tag of {} radius held there is not inside the vessel of {} x {}; expected a place inside",
                millimetres(reach), millimetres(2 * radius_), millimetres(height_)));
    return hold;
  }

  void fits_of(const Block& block, TagDesign& design) {
    const bool threshold = std::holds_alternative<ThresholdReceiver>(design.receiver);
    if (!block.given("fits")) {
      if (threshold)
        design.fits = {"threshold"};
      else if (block.block("receiver"))
        faults_.add(block.place(), block.path(),
                    "key `fits` is missing; expected a list of names such as `[green, warm-white]`");
      return;
    }
    std::set<std::string> seen;
    for (const NamedText& fit : block.fits("fits")) {
      auto emitters = emitters_of_fit(fit.text);
      for (const std::string& name : emitters) {
        const Emitter* emitter = find_named(own_emitters_, name);
        if (!emitter) emitter = find_named(library_emitters(), name);
        if (!emitter)
          unknown_emitter(fit.place, block.path("fits"), name);
        else if (!find_named(scenario_.emitters, name))
          scenario_.emitters.push_back(*emitter);
      }
      // A pair turned round is the same circuit.
      std::sort(emitters.begin(), emitters.end());
      if (!seen.insert(fit_name(emitters)).second) {
        faults_.add(fit.place, block.path("fits"),
                    fmt::format("value {} stands twice{}; expected it once", quote(fit.text),
                                emitters.size() > 1 ? ", turned round being the same" : ""));
        continue;
      }
      design.fits.push_back(fit.text);
    }
  }

  void mix(const Block& block, TagDesign& design) {
    constexpr std::size_t most_fits = 8;  // a recorded picture keeps one bit a fit
    if (design.fits.size() > most_fits) {
      faults_.add(block.place("fits"), block.path("fits"),
                  fmt::format("there are {} fits; expected at most {}", design.fits.size(), most_fits));
    }
    const int fits = int(design.fits.size());
    if (!block.given("mix")) {
      for (int i = 0; i < fits; ++i)
        design.mix.emplace_back(design.fits[std::size_t(i)],
                                design.count / fits + (i < design.count % fits ? 1 : 0));
      return;
    }
    const auto counts = block.counts("mix");
    int sum = 0;
    for (const NamedCount& item : counts) {
      sum += item.count;
      if (std::find(design.fits.begin(), design.fits.end(), item.name) == design.fits.end() &&
          !design.fits.empty())
        faults_.add(item.place, block.path("mix"),
                    fmt::format("key {} is none of the fits; expected one of {}", quote(item.name),
                                in_ticks(design.fits)));
    }
    for (const std::string& fit : design.fits) {
      const auto found = std::find_if(counts.begin(), counts.end(),
                                      [&](const NamedCount& item) { return item.name == fit; });
      design.mix.emplace_back(fit, found == counts.end() ? 0 : found->count);
    }
    if (!counts.empty() && design.count > 0 && sum != design.count)
      fault(block, "mix",
            fmt::format("the numbers sum to {}, but the count is {}; expected the count", sum, design.count));
  }

  void air() {
    const Block* block = root_.block("air");
    if (!block) {
      const auto& tags = scenario_.tags;
      const bool all_held =
          std::all_of(tags.begin(), tags.end(), [](const TagDesign& t) { return t.hold.has_value(); });
      if (!root_.given("air") && !all_held)
        faults_.add(root_.place(), "",
                    "key `air` is missing; expected a block of keys such as `flow_rate: 0.07 m3/s` where a "
                    "design is not held");
      static const Block still = block_from_text("{flow_rate: 0 m3/s}", "air", "still air");
      block = &still;
    }
    unique_names(block->blocks("losses"));
    scenario_.air = read_air(*block, {radius_, height_, wall_height_, scenario_.vessel.radius_at(height_)},
                             folder_, faults_);
    const Block* vessel = root_.block("vessel");
    if (scenario_.vessel.slope == 0.0 || vessel == nullptr) return;
    if (!std::holds_alternative<SolvedAir>(scenario_.air.source))
      fault(*vessel, "top_diameter",
            "only solved air knows a tapered wall; expected `air: {source: solved, ...}`, or no such key");
    if (scenario_.air.precession)
      fault(*vessel, "top_diameter",
            "a precessing core is known for a straight wall only; expected no `air.precession`, or no such "
            "key");
  }

  void flight(const Block& block) {
    Flight flight{};
    flight.duration = block.number("duration");
    flight.warmup = block.number("warmup");
    flight.step = block.number("step");
    flight.target_interval = block.maybe("target_interval");
    constexpr int usual_replicates = 16, most_replicates = 1000;
    flight.replicates = block.given("replicates")        ? whole(block.number("replicates"))
                        : block.given("target_interval") ? most_replicates
                                                         : usual_replicates;
    flight.seed = block.count("seed");
    flight.lost_limit = block.number("lost_limit");
    flight.coupling = block.text("coupling") == "on" ? Coupling::on : Coupling::off;
    if (const Block* trace = block.block("trace")) {
      flight.trace = {whole(trace->number("replicates")), trace->number("interval")};
      if (flight.trace.interval < flight.step)
        fault(*trace, "interval", "value is shorter than the step; expected at least the step");
    }
    if (flight.duration < flight.step)
      fault(block, "duration", "value is shorter than one step; expected at least the step");
    if (flight.target_interval && flight.replicates < 2 && block.given("replicates"))
      fault(block, "replicates", "one replicate has no interval; expected at least 2 with `target_interval`");
    const double steps = (flight.duration + flight.warmup) / flight.step;
    constexpr double most_steps = 1e8;
    if (steps > most_steps)
      fault(block, "duration",
            fmt::format("a replicate would take {:.3g} steps; expected at most {:.0e}, by a shorter duration "
                        "or a longer step",
                        steps, most_steps));
    scenario_.flight = flight;
    memory(block);
  }

  // Bytes that a run holds at once, on the high side: recorded pictures, per-tag state, per-replicate
  // results.
  void memory(const Block& block) {
    const Flight& flight = scenario_.flight;
    double tags = 0, tag_leds = 0, design_fits = 0;
    for (const TagDesign& design : scenario_.tags) {
      tags += design.count;
      for (const std::string& fit : design.fits)
        tag_leds += double(design.count) * double(emitters_of_fit(fit).size());
      design_fits += double(design.fits.size());
    }
    const double pictures =
        flight.trace.replicates * ((flight.duration + flight.warmup) / flight.trace.interval + 1);
    const double trace_bytes = pictures * (tags * (10 * sizeof(float) + 1) + tag_leds * sizeof(float));
    const double state_bytes = tags * 4096 + tag_leds * 16384;
    const double result_bytes = flight.replicates * (design_fits * 6144 + tags * 64);
    constexpr double gibibyte = 1024. * 1024. * 1024.;
    constexpr double most = 4 * gibibyte;
    const double bytes = trace_bytes + state_bytes + result_bytes;
    if (bytes > most)
      faults_.add(block.place(), block.path(),
                  fmt::format("the flight would need {:.1f} GiB of memory ({:.1f} of it for the trace); "
                              "expected at most {:.0f} "
                              "GiB, by fewer replicates, tags or recorded pictures",
                              bytes / gibibyte, trace_bytes / gibibyte, most / gibibyte));
  }

  double vessel_volume() const {
    const double top = scenario_.vessel.radius_at(height_);
    if (top == radius_) return pi * radius_ * radius_ * height_;
    return pi * height_ * (radius_ * radius_ + radius_ * top + top * top) / 3.0;
  }

  void packing() {
    constexpr double densest =
        0.3;  // ours: beyond it tags move as a bed, which contact by pairs does not cover
    double volume = 0;
    for (const TagDesign& design : scenario_.tags)
      if (!design.hold && design.body.kind == BodyKind::solid)
        volume += design.count * 4. / 3. * pi * std::pow(design.body.radius, 3);
    const double share = volume / vessel_volume();
    if (share > densest && all_tags_fit_)
      faults_.add(
          root_.place("tags"), "tags",
          fmt::format(
              "the tags' spheres fill {:.0f} % of the vessel; expected at most {:.0f} %, by fewer or smaller "
              "tags",
              100 * share, 100 * densest));
  }

  const Block& root_;
  std::filesystem::path folder_;  // of the scenario
  Faults& faults_;
  Scenario scenario_{};
  std::vector<Emitter> own_emitters_;
  bool all_tags_fit_ = true;
  double radius_ = std::nan("");
  double height_ = std::nan("");       // up to the lid
  double wall_height_ = std::nan("");  // up to the wall's edge
};

// The items of a library file: its one key, or the file itself, is a list of blocks as the table has them.
std::vector<Block> library_blocks(std::string_view text, const std::string& table_path,
                                  const std::string& shown) {
  Faults faults(shown);
  const auto root = parse_document(text, faults);
  if (!root) throw LogicError(faults.text());
  const Node& list =
      root->kind == Node::Kind::block && root->entries.size() == 1 ? *root->entries[0].value : *root;
  if (list.kind != Node::Kind::list) throw LogicError(shown + ": expected one list");
  std::vector<Block> blocks;
  for (const NodePointer& item : list.items)
    blocks.push_back(check_block(*item, table_path, table_path, faults));
  if (!faults.empty()) throw LogicError(faults.text());
  return blocks;
}

}  // namespace

const std::vector<Emitter>& library_emitters() {
  static const std::vector<Emitter> emitters = [] {
    std::vector<Emitter> list;
    for (const Block& block : library_blocks(library::emitters_yaml(), "emitters[]", "data/emitters"))
      list.push_back(emitter_of(block));
    return list;
  }();
  return emitters;
}

const std::vector<Fan>& library_fans() {
  static const std::vector<Fan> fans = [] {
    std::vector<Fan> list;
    for (const Block& block : library_blocks(library::fans_yaml(), "air.fan", "data/fans"))
      list.push_back({block.text("name"), block.pairs("curve")});
    return list;
  }();
  return fans;
}

std::string file_text(const std::filesystem::path& file, const std::string& kind) {
  const std::string shown = file.string();
  const auto refuse = [&](const std::string& what) -> void {
    throw InputError(fmt::format("{}: the file {}; expected a readable {} file", shown, what, kind));
  };
  std::error_code error;
  const auto status = std::filesystem::status(file, error);
  if (status.type() == std::filesystem::file_type::not_found) refuse("does not exist");
  if (status.type() == std::filesystem::file_type::directory) refuse("is a directory");
  if (!error && status.type() != std::filesystem::file_type::regular) refuse("is not a regular file");
  std::ifstream stream(file, std::ios::binary);
  if (!stream) refuse(fmt::format("cannot be opened ({})", std::strerror(errno)));
  std::string text(largest_file + 1, '\0');
  stream.read(text.data(), std::streamsize(text.size()));
  if (stream.bad()) refuse("cannot be read");
  text.resize(std::size_t(stream.gcount()));
  return text;
}

Scenario parse_scenario(const std::string& text, const std::string& name_shown) {
  Faults faults(name_shown);
  return scenario_of(parse_document(text, faults), text, name_shown, faults);
}

Scenario scenario_of(const NodePointer& root, const std::string& text, const std::filesystem::path& file,
                     Faults& faults) {
  Scenario scenario;
  if (root && root->kind == Node::Kind::block) {
    const Block block = check_block(*root, "", "", faults);
    scenario = Binder(block, file.parent_path(), faults).run();
  } else if (root) {
    faults.add(root->place, "",
               "the file is no block of keys; expected keys such as `vessel:` at its left edge");
  }
  if (!faults.empty()) throw InputError(faults.text());
  scenario.name = file.stem().string();
  if (scenario.title.empty()) scenario.title = scenario.name;
  scenario.text = text;
  scenario.hash = store::sha256_hex(text);
  return scenario;
}

Scenario read_scenario(const std::filesystem::path& file) {
  return parse_scenario(file_text(file, "scenario"), file.string());
}

}  // namespace driftglow::scenario
