#pragma once

#include <vector>

#include "sim/results/setting.hpp"

namespace driftglow::results {

// Results invented for tests: one design of two tags with two fits; duties given by replicate.
inline Outline made_up_outline() {
  return {7,
          0.1,
          0.3,
          {0.001, 1000, 10000, 10, 50, 20},
          {{"jelly", 2, Receiver::circuit, {"yellow-green", "white"}, {"yellow-green", "white"}, {0, 1}}},
          {"yellow-green", "white"},
          2};
}

inline flight::FitResult made_up_fit(double duty) {
  flight::FitResult fit{};
  fit.tag_duty = {duty - 0.01, duty + 0.01};
  fit.duty = duty;
  fit.flashes_per_minute = 60.0;
  fit.mean_on_spell = 0.5;
  fit.mean_off_spell = 0.75;
  fit.mean_current = 1e-3;
  fit.mean_intensity = 2e-3;
  fit.effective_intensity = 3e-3;
  fit.on_spells[20] = 3;
  fit.off_spells[24] = 5;
  fit.lit_by_place.assign(flight::place_r_bins * flight::place_z_bins, 1);
  return fit;
}

inline flight::ReplicateResult made_up_replicate(double first, double second) {
  flight::DesignResult design{};
  design.pinned = {0.01, 0.02, 0.03};
  design.touching = 0.2;
  design.mean_speed = 0.9;
  design.mean_height = 0.15;
  design.visits.assign(flight::place_r_bins * flight::place_z_bins, 4);
  design.visits[5] = 0;
  design.fits = {made_up_fit(first), made_up_fit(second)};
  for (auto& fit : design.fits) fit.lit_by_place[5] = 0;
  flight::ReplicateResult replicate{};
  replicate.designs = {design};
  replicate.vessel = {{5000, 3000, 2000}, 1.5, {0.001, 0.004}};
  replicate.ledger = {flight::EnergySource::supply, 10.0, 8.0, 0.5, 0.25, 0.5, 0.5, 0.0625, 0.1875};
  return replicate;
}

inline flight::CampaignResult made_up_campaign() {
  flight::CampaignResult campaign{};
  campaign.numbers = {0, 1, 2};
  campaign.replicates = {made_up_replicate(0.40, 0.20), made_up_replicate(0.50, 0.31),
                         made_up_replicate(0.60, 0.39)};
  campaign.replicates[1].vessel.longest_dark = 4.5;
  return campaign;
}

// Two coils and a ring, a field and an upward flow that look like something, for the eye.
inline Setting made_up_setting() {
  Setting setting{};
  setting.title = "Jelly";
  setting.name = "jelly";
  setting.outline = made_up_outline();
  setting.sheet = "Jelly: design sheet\n\nair\n  flow            0.07 m3/s\n";
  setting.cautions = {"Field at the wall 99 uT rms: above public reference levels."};
  setting.glow = {{{{{0.8, 1.0, 0.01}, 2e-4}}, {{{2.0, 1.8, 0.6}, 2e-4}}}};
  setting.tag_radius = {0.015};
  setting.coil_radius = {0.013};
  setting.flashes_count = {1};
  setting.coils = {{"lower", {0.0, 0.0, 0.08}, {0.0, 0.0, 1.0}, {{-0.001, 0.12}, {0.001, 0.12}}, 5e-4},
                   {"side", {0.0, 0.0, 0.2}, {1.0, 0.0, 0.0}, {{0.0, 0.12}}, 5e-4}};
  setting.metal = {{"ring", 0.11, 0.0, 0.0, 0.002, 0}};
  setting.section = {{-0.15, -0.05}, {0.15, 0.35}, {31, 41}};
  for (int i = 0; i < 31; ++i)
    for (int j = 0; j < 41; ++j) setting.flux_density.push_back(2e-5 + 1e-6 * i + 5e-7 * j);
  setting.half_section = {{0.0, 0.0}, {0.1, 0.3}, {11, 31}};
  for (int i = 0; i < 11; ++i) {
    for (int j = 0; j < 31; ++j) {
      setting.u_r.push_back(0.0);
      setting.u_theta.push_back(0.02 * i);
      setting.u_z.push_back(2.0 - 0.02 * i * i);
    }
  }
  return setting;
}

}  // namespace driftglow::results
