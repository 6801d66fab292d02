#include "tools/report/make_setting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/light/screen_colour.hpp"
#include "sim/sheet/field_view.hpp"

namespace driftglow::report {
namespace {

using results::CoilLook;
using results::Setting;

// More turns than this are not drawn one by one.
constexpr std::size_t most_turns = 160;
constexpr int section_nodes = 81, air_r_nodes = 41, air_z_nodes = 81;

std::array<double, 3> array_of(const Eigen::Vector3d& v) {
  return {v.x(), v.y(), v.z()};
}

CoilLook look_of(const std::string& name, const coil::WoundCoil& coil, const Eigen::Vector3d& centre,
                 const Eigen::Vector3d& axis, double height) {
  CoilLook look{name, array_of(centre), array_of(axis), {}, 0.5 * coil.wire.enamelled_diameter};
  const std::size_t turns = coil.turns.size(), shown = std::min(turns, most_turns);
  for (std::size_t i = 0; i < shown; ++i) {
    const auto& turn = coil.turns[shown == turns ? i : i * (turns - 1) / (shown - 1)];
    look.turns.push_back({turn.height - height, turn.radius});
  }
  return look;
}

void add_coils(const scenario::Scenario& scenario, const flight::Plan& plan, Setting& setting) {
  const auto* given = std::get_if<scenario::CoilDrive>(&scenario.drive);
  if (!given) return;
  if (const auto* coaxial = std::get_if<maps::CoilState>(&plan.drive.field)) {
    const auto& coils = coaxial->circuit.coils();
    for (std::size_t i = 0; i < coils.size(); ++i) {
      const double height = 0.5 * (coils[i].turns.front().height + coils[i].turns.back().height);
      setting.coils.push_back(
          look_of(given->coils[i].name, coils[i], {0.0, 0.0, height}, Eigen::Vector3d::UnitZ(), height));
    }
  } else if (const auto* system = std::get_if<maps::SystemState>(&plan.drive.field)) {
    for (int i = 0; i < system->system.coils(); ++i) {
      const auto& placed = system->system.coil(i);
      setting.coils.push_back(look_of(given->coils[i].name, placed.coil, placed.placement.centre(),
                                      placed.placement.axis(), 0.0));
    }
  }
  for (const auto& conductor : given->conductors) {
    const auto* round = std::get_if<coil::RoundSection>(&conductor.section);
    const double half = round ? 0.5 * round->diameter
                              : 0.5 * std::max(std::get<coil::RectangularSection>(conductor.section).width,
                                               std::get<coil::RectangularSection>(conductor.section).height);
    if (const auto* ring = std::get_if<scenario::Ring>(&conductor.shape)) {
      setting.metal.push_back({conductor.name, 0.5 * ring->diameter, ring->height, ring->height, half, 0});
    } else {
      const auto& cage = std::get<scenario::Cage>(conductor.shape);
      setting.metal.push_back({conductor.name, 0.5 * cage.diameter, cage.low, cage.high, half, cage.rods});
    }
  }
}

// Out to the coils and a little beyond.
results::Grid section_of(const Setting& setting) {
  const double radius = setting.outline.vessel_radius, height = setting.outline.vessel_height;
  double wide = radius, low = 0.0, high = height;
  for (const auto& coil : setting.coils) {
    for (const auto& [offset, turn] : coil.turns) {
      const double lean = std::sqrt(std::max(0.0, 1.0 - coil.axis[2] * coil.axis[2]));
      const double z = coil.centre[2] + offset * coil.axis[2];
      const double across =
          std::hypot(coil.centre[0] + offset * coil.axis[0], coil.centre[1] + offset * coil.axis[1]);
      wide = std::max(wide, across + turn);
      low = std::min(low, z - turn * lean);
      high = std::max(high, z + turn * lean);
    }
  }
  for (const auto& part : setting.metal) {
    wide = std::max(wide, part.radius + part.half_thickness);
    low = std::min(low, part.low - part.half_thickness);
    high = std::max(high, part.high + part.half_thickness);
  }
  const double margin = 0.08 * (high - low);
  return {{-(wide + margin), low - margin}, {wide + margin, high + margin}, {section_nodes, section_nodes}};
}

void add_field(const scenario::Scenario& scenario, const flight::Plan& plan, Setting& setting) {
  const auto view = sheet::field_view(scenario, plan);
  setting.section = section_of(setting);
  for (int i = 0; i < section_nodes; ++i) {
    for (int j = 0; j < section_nodes; ++j) {
      setting.flux_density.push_back(
          sheet::strongest(view.parts({setting.section.at(0, i), 0.0, setting.section.at(1, j)})).amplitude);
    }
  }
}

void add_air(const flight::Plan& plan, Setting& setting) {
  setting.half_section = {{0.0, 0.0}, {plan.vessel.widest(), plan.vessel.height}, {air_r_nodes, air_z_nodes}};
  for (int i = 0; i < air_r_nodes; ++i) {
    for (int j = 0; j < air_z_nodes; ++j) {
      const numeric::Vec3<double> place{setting.half_section.at(0, i), 0.0, setting.half_section.at(1, j)};
      auto u = plan.air.map.sample(place).u_W;
      if (place.x > plan.vessel.radius_at(place.z) * (1.0 + 1e-12)) u = {0.0, 0.0, 0.0};
      setting.u_r.push_back(u.x);
      setting.u_theta.push_back(u.y);
      setting.u_z.push_back(u.z);
    }
  }
}

results::GlowLook glow_of(const scenario::Emitter& emitter, double intensity_per_current, double on_current) {
  auto xyz = light::tristimulus(emitter.chromaticity[0], emitter.chromaticity[1]);
  for (double& value : xyz) value *= intensity_per_current;
  return {xyz, on_current};
}

results::FitLook look_of(const scenario::Scenario& scenario, const std::string& fit,
                         const flight::LedPlan& led) {
  const auto emitters = scenario.emitters_of(fit);
  results::FitLook look{glow_of(*emitters.front(), led.intensity_per_current, led.on_mean_current)};
  if (led.antiparallel) {
    const auto& second = *led.antiparallel;
    look.push_back(
        glow_of(*emitters.back(), second.intensity_per_current, led.on_mean_current / second.on_weight));
  }
  return look;
}

}  // namespace

results::Setting make_setting(const scenario::Scenario& scenario, const flight::Plan& plan,
                              const sheet::DesignSheet& sheet) {
  Setting setting{};
  setting.title = scenario.title;
  setting.name = scenario.name;
  setting.outline = results::outline(plan);
  setting.sheet = sheet::sheet_text(sheet);
  setting.cautions = sheet.cautions;
  for (std::size_t d = 0; d < plan.designs.size(); ++d) {
    const auto& design = plan.designs[d];
    auto& fits = setting.glow.emplace_back();
    fits.resize(design.fits.size());
    for (std::size_t f = 0; f < design.leds.size(); ++f)
      fits[f] = look_of(scenario, design.fits[f], design.leds[f]);
    const auto* circuit = std::get_if<scenario::CircuitReceiver>(&scenario.tags[d].receiver);
    setting.tag_radius.push_back(design.body.radius);
    setting.coil_radius.push_back(circuit ? 0.5 * circuit->winding.inner_diameter : 0.0);
    setting.flashes_count.push_back(design.hold && !design.hold->axis ? 0 : 1);
  }
  add_coils(scenario, plan, setting);
  add_field(scenario, plan, setting);
  add_air(plan, setting);
  return setting;
}

std::vector<std::string> all_cautions(const results::Setting& setting, const results::Summary& summary) {
  auto cautions = setting.cautions;
  for (std::size_t d = 0; d < summary.designs.size(); ++d) {
    const auto& design = summary.designs[d];
    if (setting.flashes_count[d] == 0) continue;
    for (const auto& fit : design.fits) {
      const auto flashing = sheet::flash_caution(
          design.name + " with " + fit.emitter, {fit.flashes_per_minute.mean, fit.on_spells, fit.off_spells});
      if (flashing) cautions.push_back(*flashing);
    }
  }
  if (const auto lost = results::lost_count(summary); lost.lost > 0) {
    cautions.push_back(fmt::format(
        "{} of {} tags were lost on the way ({:.2g} %): the first, tag {} of replicate {}, {} after {:.3f} "
        "s. They "
        "count up to then and no further, and are dark in the number lit at once.",
        lost.lost, lost.tags, 100.0 * lost.share(), lost.first.tag, lost.replicate,
        flight::words(lost.first.loss), static_cast<double>(lost.first.steps) * summary.outline.clock.step));
  }
  // A thousand times what the time step of the tags' wave forms leaves open.
  constexpr double most_violation = 1e-3;
  if (summary.energy && summary.energy->worst_violation > most_violation) {
    cautions.push_back(fmt::format(
        "The energy does not balance: {:.2g} % of the input is missing or too much in the worst replicate. "
        "Do not rely on powers and heat; this is a fault of the program.",
        100.0 * summary.energy->worst_violation));
  }
  const auto& uncoupled = summary.vessel.uncoupled_share;
  if (uncoupled && uncoupled->mean > 0.0) {
    cautions.push_back(fmt::format(
        "In {:.2g} % of the steps the coupled tags found no common solution and were taken as uncoupled.",
        100.0 * uncoupled->mean));
  }
  return cautions;
}

}  // namespace driftglow::report
