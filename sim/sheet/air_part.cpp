#include "sim/sheet/air_part.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/solved_map.hpp"
#include "sim/flight/calm.hpp"
#include "sim/flight/tag_draw.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/sheet/design_sheet.hpp"
#include "sim/sheet/quantity_text.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

using numeric::Vec3;

Fate fate_of(const flight::Plan& plan, const flight::DesignPlan& design, double falling,
             const air::AirMap& map) {
  constexpr int places = 120;
  const double radius = design.body.radius, high = map.height() - radius;
  const double apart = radius * std::hypot(1.0, map.slope());
  const coil::Reach reach{std::max(map.radius_at(radius), map.radius_at(high)) - apart, radius, high,
                          map.slope()};
  // A surface counts as touched a little farther off than in flight, where tags are looked at in a window.
  const double near = 0.1 * radius;
  Fate fate{design.name, falling, 0.0, 0.0, 0.0, 0.0, 0.0};
  for (int i = 1; i <= places; ++i) {
    const auto [p, n] = flight::sample(reach, i);
    const Vec3<double> start{p.x(), p.y(), p.z()};
    if (map.sample(start).u_W.z > falling) fate.rises += 1.0 / places;
    const auto end = flight::calm_end(plan, design, map, start, {n.x(), n.y(), n.z()}, fate_time);
    const double room = map.radius_at(end.z) - apart - std::hypot(end.x, end.y);
    double& place = end.z > high - near     ? fate.lid
                    : end.z < radius + near ? fate.floor
                    : room < near           ? fate.wall
                                            : fate.drifts;
    place += 1.0 / places;
  }
  return fate;
}

std::vector<Fate> fates_of(const flight::Plan& plan, const std::vector<Design>& designs,
                           const air::AirMap& map) {
  std::vector<Fate> fates;
  for (std::size_t i = 0; i < designs.size(); ++i) {
    if (designs[i].lift)
      fates.push_back(fate_of(plan, plan.designs[i], mean_terminal_speed(*designs[i].lift), map));
  }
  return fates;
}

std::vector<std::pair<std::string, double>> outflow_of(const scenario::Scenario& scenario,
                                                       const maps::AirState& air) {
  if (const auto* solved = std::get_if<maps::SolvedSource>(&air.source)) {
    std::vector<std::pair<std::string, double>> flows;
    const auto& given = std::get<scenario::SolvedAir>(scenario.air.source);
    if (given.side_gap > 0.0)
      flows.emplace_back("side gap", solved->report.side_gap.out - solved->report.side_gap.in);
    if (given.lid_vent) flows.emplace_back("lid", solved->report.lid.out - solved->report.lid.in);
    return flows;
  }
  const double through_lid =
      2.0 * constant::pi * air.map.stream_function({air.map.radius(), 0.0, air.map.height()});
  return {{"side", air.flow - through_lid}, {"lid", through_lid}};
}

swirl_flow::VesselGeometry opened(swirl_flow::VesselGeometry geometry) {
  constexpr double wider = 1.5;
  if (auto& vent = geometry.lid_vent) {
    if (wider * vent->open_share <= 1.0) {
      vent->open_share *= wider;
    } else {
      const double inner = vent->inner_radius * vent->inner_radius;
      const double ring = wider * (vent->outer_radius * vent->outer_radius - inner);
      vent->outer_radius = std::min(geometry.radius_at(geometry.height), std::sqrt(inner + ring));
    }
  }
  geometry.side_gap = std::min(wider * geometry.side_gap, 0.5 * geometry.height);
  for (auto& fins : geometry.fins) fins.to = std::min(fins.to, geometry.height - geometry.side_gap);
  return geometry;
}

constexpr double lift_of_lid = 5e-3;  // m

swirl_flow::VesselGeometry lifted(swirl_flow::VesselGeometry geometry) {
  geometry.height += lift_of_lid;
  geometry.side_gap += lift_of_lid;
  return geometry;
}

std::string held_together(std::string text) {
  std::replace(text.begin(), text.end(), ' ', '~');
  return text;
}
std::string q(double value, const char* unit) {
  return held_together(with_prefix(value, unit));
}
std::string whole_percent(double value) {
  return fmt::format("{:.0f}~%", 100.0 * value);
}
std::string flow_text(double flow) {
  return fmt::format("{:.3g}~m3/s", flow);
}

constexpr double least_shown = 1e-3;  // of the fan's pressure, for a loss in the text

std::string fate_text(const Fate& fate) {
  std::string text = fmt::format("{} ({}) up in {} of places; in {:.0f}~s", held_together(fate.design),
                                 q(fate.terminal_speed, "m/s"), whole_percent(fate.rises), fate_time);
  const std::pair<const char*, double> ends[] = {
      {"drift", fate.drifts}, {"lid", fate.lid}, {"floor", fate.floor}, {"wall", fate.wall}};
  bool first = true;
  for (const auto& [what, part] : ends) {
    if (part < 0.005) continue;
    text += fmt::format("{} {} {}", first ? "" : ",", whole_percent(part), held_together(what));
    first = false;
  }
  return text;
}

std::string variant_text(const AirVariant& variant, const AirVariant& as_it_is) {
  if (!variant.fault.empty()) return variant.change + ": the flow does not settle on the quick grid";
  std::string text = fmt::format("{}: flow {:+.0f}~%, axis {:.2f} (now {:.2f}) m/s", variant.change,
                                 100.0 * variant.flow, variant.core_speed, as_it_is.core_speed);
  for (std::size_t i = 0; i < variant.drifts.size(); ++i)
    text += fmt::format("{} {} (now {})", i == 0 ? ", drift" : ",", whole_percent(variant.drifts[i]),
                        whole_percent(as_it_is.drifts[i]));
  return text;
}

}  // namespace

AirPart air_part(const scenario::Scenario& scenario, const flight::Plan& plan,
                 const std::vector<Design>& designs) {
  const maps::AirState& air = plan.air;
  AirPart part{};
  part.no_flow = air.flow == 0.0 && std::holds_alternative<air::Column>(air.source);
  part.source = std::holds_alternative<air::Column>(air.source)           ? "column"
                : std::holds_alternative<maps::GriddedSource>(air.source) ? "gridded"
                                                                          : "solved";
  constexpr double radii[] = {0.0, 0.5, 0.9};
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) {
      const double z = air.map.height() * (2 * i + 1) / 6.0;
      part.up[i][j] = air.velocity(radii[j] * air.map.radius_at(z), z).u_z;
    }
  part.fates = fates_of(plan, designs, air.map);
  part.outflow = outflow_of(scenario, air);
  if (const auto* gridded = std::get_if<maps::GriddedSource>(&air.source)) part.gridded = *gridded;
  if (const auto* solved = std::get_if<maps::SolvedSource>(&air.source)) part.solved = solved->report;
  part.precession = air.precession;
  part.gust_length = air.gust_length();
  for (const auto& design : plan.designs)
    if (design.solid() && design.terms.gust_share < 1.0)
      part.gusts_left.emplace_back(design.name, std::sqrt(design.terms.gust_share));
  return part;
}

std::vector<AirVariant> air_variants(const scenario::Scenario& scenario, const flight::Plan& plan,
                                     const std::vector<Design>& designs) {
  const auto* given = std::get_if<scenario::SolvedAir>(&scenario.air.source);
  if (given == nullptr) return {};
  const air::FanCurve fan(given->fan.name, given->fan.curve);
  const auto geometry = maps::geometry_of(scenario);
  const auto solved = [&](const swirl_flow::VesselGeometry& changed, AirVariant variant,
                          double flow_as_it_is) {
    try {
      const auto vessel = swirl_flow::solve_vessel(changed, fan, swirl_flow::Detail::quick);
      variant.flow = flow_as_it_is > 0.0 ? vessel.operating_point.flow / flow_as_it_is - 1.0
                                         : vessel.operating_point.flow;
      variant.pressure_under_lid = vessel.pressure_under_lid;
      variant.core_speed = vessel.core_wind.speed;
      for (const auto& fate : fates_of(plan, designs, swirl_flow::map_of(vessel)))
        variant.drifts.push_back(fate.drifts);
    } catch (const InputError& error) {
      variant.fault = error.what();
    }
    return variant;
  };
  AirVariant as_it_is = solved(geometry, {"as it is (quick grid)", "", 0.0, 0.0, 0.0, {}}, 0.0);
  if (!as_it_is.fault.empty()) return {as_it_is};
  const double flow = std::exchange(as_it_is.flow, 0.0);
  return {as_it_is, solved(opened(geometry), {"vents 1.5 times as wide", "", 0.0, 0.0, 0.0, {}}, flow),
          solved(lifted(geometry), {"lid lifted by 5 mm", "", 0.0, 0.0, 0.0, {}}, flow)};
}

std::vector<std::pair<std::string, std::string>> air_entries(const AirPart& part,
                                                             const std::optional<air::OperatingPoint>& fan) {
  std::vector<std::pair<std::string, std::string>> entries;
  if (part.no_flow) return entries;
  if (fan && !fan->loss_pressures.empty()) {
    std::string text;
    for (const auto& [name, pressure] : fan->loss_pressures)
      if (std::fabs(pressure) >= least_shown * fan->pressure)
        text += fmt::format("{}{} {}", text.empty() ? "" : ", ", held_together(name), q(pressure, "Pa"));
    entries.emplace_back("  losses", text);
  }
  std::string out;
  for (const auto& [name, flow] : part.outflow)
    out += fmt::format("{}{} {}", out.empty() ? "" : ", ", held_together(name), flow_text(flow));
  if (part.solved) {
    const auto& solved = *part.solved;
    out += fmt::format("; lid {}; fan's swirl {:.0f}~deg", q(solved.pressure_under_lid, "Pa"),
                       solved.swirl_angle / constant::pi * 180.0);
    out += fmt::format("; core {:.2g}", solved.core_wind.speed);
    out += solved.core_wind.band > 0.0 ? fmt::format(" +- {:.2g}~m/s", solved.core_wind.band) : "~m/s";
  }
  entries.emplace_back("  outflow", out);
  if (part.solved)
    entries.emplace_back(
        "  grid error",
        fmt::format("flow {:.1f}~%, pressure {:.1f}~%, wind {:.0f}~% rms (Richardson, threefold)",
                    100.0 * part.solved->error.flow, 100.0 * part.solved->error.pressure_under_lid,
                    100.0 * part.solved->error.velocity));
  if (part.gridded)
    entries.emplace_back(
        "  grid", fmt::format("made free of divergence: changed by {:.1f}~% rms, {:.0f}~% at worst "
                              "(r~=~{:.0f}~mm, z~=~{:.0f}~mm) of {}; its divergence was {:.2g}~U/R rms",
                              100.0 * part.gridded->change.rms, 100.0 * part.gridded->change.largest,
                              1e3 * part.gridded->change.r, 1e3 * part.gridded->change.z,
                              q(part.gridded->largest_speed, "m/s"), part.gridded->divergence_before));
  std::string up;
  for (int i = 0; i < 3; ++i)
    up += fmt::format("{}{:.2f} {:.2f} {:.2f} {}", i == 0 ? "" : "; ", part.up[i][0], part.up[i][1],
                      part.up[i][2], held_together(air_heights[i]));
  entries.emplace_back("  up-flow, m/s", up + " (axis, half, wall)");
  for (const auto& fate : part.fates)
    entries.emplace_back(&fate == &part.fates.front() ? "  in calm air" : "", fate_text(fate));
  if (!part.gusts_left.empty()) {
    std::string text;
    for (const auto& [name, left] : part.gusts_left)
      text += fmt::format("{}{} {}", text.empty() ? "" : ", ", held_together(name), whole_percent(left));
    entries.emplace_back(
        "  gusts", fmt::format("of eddies of {} a tag's mean feels: {}", q(part.gust_length, "m"), text));
  }
  if (part.precession)
    entries.emplace_back("  precession", fmt::format("{} at {}", q(part.precession->speed, "m/s"),
                                                     q(std::fabs(part.precession->frequency), "Hz")));
  for (std::size_t i = part.variants.size() == 1 ? 0 : 1; i < part.variants.size(); ++i)
    entries.emplace_back(i <= 1 ? "  what if" : "", variant_text(part.variants[i], part.variants[0]));
  return entries;
}

nlohmann::ordered_json air_json(const AirPart& part) {
  nlohmann::ordered_json json{{"source", part.source}, {"gust_length", part.gust_length}};
  for (int i = 0; i < 3; ++i) json["up"][air_heights[i]] = part.up[i];
  for (const auto& [name, flow] : part.outflow) json["outflow"][name] = flow;
  json["tags"] = nlohmann::ordered_json::array();
  for (const auto& fate : part.fates)
    json["tags"].push_back({{"name", fate.design},
                            {"terminal_speed", fate.terminal_speed},
                            {"rises", fate.rises},
                            {"drifts", fate.drifts},
                            {"lid", fate.lid},
                            {"floor", fate.floor},
                            {"wall", fate.wall}});
  for (const auto& [name, left] : part.gusts_left) json["gusts_left"][name] = left;
  if (part.precession)
    json["precession"] = {{"speed", part.precession->speed}, {"frequency", part.precession->frequency}};
  if (part.gridded)
    json["grid"] = {{"change_rms", part.gridded->change.rms},
                    {"change_largest", part.gridded->change.largest},
                    {"change_r", part.gridded->change.r},
                    {"change_z", part.gridded->change.z},
                    {"divergence_before", part.gridded->divergence_before},
                    {"largest_speed", part.gridded->largest_speed}};
  if (part.solved) {
    const auto& s = *part.solved;
    json["solved"] = {{"pressure_under_lid", s.pressure_under_lid},
                      {"swirl_angle", s.swirl_angle},
                      {"core_speed", s.core_wind.speed},
                      {"core_band", s.core_wind.band},
                      {"flow_grid_error", s.error.flow},
                      {"pressure_grid_error", s.error.pressure_under_lid},
                      {"velocity_grid_error", s.error.velocity},
                      {"mesh_loss", s.mesh_loss},
                      {"guard_loss", s.guard_loss},
                      {"residual", s.residual},
                      {"warnings", s.warnings}};
    for (const auto& v : part.variants) {
      nlohmann::ordered_json entry{{"change", v.change}};
      if (!v.fault.empty()) {
        entry["fault"] = v.fault;
      } else {
        entry.update({{"flow_change", v.flow},
                      {"pressure_under_lid", v.pressure_under_lid},
                      {"core_speed", v.core_speed},
                      {"drifts", v.drifts}});
      }
      json["what_if"].push_back(entry);
    }
  }
  return json;
}

std::vector<std::string> air_cautions(const scenario::Scenario& scenario, const AirPart& part) {
  std::vector<std::string> cautions;
  const auto disc = [](const auto& tag) {
    return !tag.hold && std::holds_alternative<scenario::DiscDrag>(tag.body.drag) &&
           tag.body.kind == scenario::BodyKind::solid;
  };
  for (const auto& tag : scenario.tags)
    if (disc(tag))
      cautions.push_back(
          fmt::format("{} is flat: the air's pitching moment on it is neglected, it really flutters and "
                      "turns more broadside.",
                      tag.name));
  if (part.gridded && part.gridded->change.rms > 0.1)
    cautions.push_back(
        fmt::format("The air grid had to change by {:.0f} % rms to be free of divergence: look at its units, "
                    "its r and z, and open_above.",
                    100.0 * part.gridded->change.rms));
  if (!part.solved) return cautions;
  for (const auto& warning : part.solved->warnings) cautions.push_back(warning);
  if (part.solved->precession && !part.precession)
    cautions.push_back(fmt::format(
        "Expect the core to circle at {:.2g} to {:.2g} Hz, which is left out: air.precession brings it in.",
        part.solved->precession->lowest, part.solved->precession->highest));
  const auto& given = std::get<scenario::SolvedAir>(scenario.air.source);
  double smallest = 1e9;
  for (const auto& tag : scenario.tags)
    if (!tag.hold && tag.body.kind == scenario::BodyKind::solid)
      smallest = std::min(smallest, 2.0 * tag.body.radius);
  const auto escape = [&](double width, const char* what) {
    if (width > smallest)
      cautions.push_back(
          fmt::format("Tags of {:.3g} mm can get through the {} ({:.3g} mm) and into the fan or the room: "
                      "cover it with a mesh.",
                      1e3 * smallest, what, 1e3 * width));
  };
  escape(given.side_gap, "side gap");
  if (given.lid_vent)
    escape(given.hole_diameter > 0.0 ? given.hole_diameter
           : given.lid_vent->open_share < 1.0
               ? 0.0
               : given.lid_vent->outer_radius -
                     given.lid_vent->inner_radius * (given.lid_vent->inner_radius > 0.0 ? 1.0 : 0.0),
           "lid's opening");
  if (given.mesh)
    if (const auto* wires = std::get_if<air::WireMesh>(&*given.mesh)) escape(wires->opening, "floor mesh");
  return cautions;
}

}  // namespace driftglow::sheet
