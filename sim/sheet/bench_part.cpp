#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "sim/sheet/sheet_parts.hpp"

namespace driftglow::sheet {
namespace {

// Steps of a hand that comes nearer: from where no tag lights, a fiftieth of the distance at a time.
constexpr double farthest_hand = 5.0, nearest_hand = 1e-3, hand_step = 1.02;  // m, m, 1

struct Outward {
  const CoilPlane* coil;
  Eigen::Vector3d direction;  // 1, away from the vessel's middle
};

Outward uppermost(const Sources& sources, double middle) {
  const auto& coil =
      *std::max_element(sources.coils.begin(), sources.coils.end(),
                        [](const auto& a, const auto& b) { return a.centre.z() < b.centre.z(); });
  const Eigen::Vector3d away = coil.centre - Eigen::Vector3d(0.0, 0.0, middle);
  return {&coil, away.dot(coil.axis) < 0.0 ? Eigen::Vector3d(-coil.axis) : coil.axis};
}

}  // namespace

BenchWinding bench_of(const driver::CoilLoad& winding, double temperature) {
  BenchWinding bench{};
  const std::vector<double> cold(winding.coils(), temperature);
  for (std::size_t i = 0; i < bench_frequencies.size(); ++i) {
    const auto state = winding.at(bench_frequencies[i], cold);
    bench.resistance_dc = state.resistance.dc;
    bench.readings[i] = {bench_frequencies[i],
                         state.L + winding.induced_inductance(bench_frequencies[i], temperature),
                         state.resistance.total};
  }
  return bench;
}

std::vector<SearchCoilReading> search_coil_readings(const scenario::Scenario& scenario,
                                                    const FieldView& field, double omega) {
  constexpr double radius = 0.5 * search_coil_diameter;
  const double middle = 0.5 * scenario.vessel.height;
  std::vector<SearchCoilReading> readings;
  const auto look = [&](std::string place, const Eigen::Vector3d& centre) {
    const double flux_density = mean_over_disc(field, centre, strongest(field.parts(centre)).axis, radius);
    readings.push_back({std::move(place), centre, flux_density,
                        omega * constant::pi * radius * radius * flux_density / std::sqrt(2.0)});
  };
  look("centre of the vessel", {0.0, 0.0, middle});
  if (field.sources) {
    for (const auto& coil : field.sources->coils)
      look(fmt::format("middle of coil {}", coil.name), coil.centre);
  }
  look("at the wall (+x), half height", {scenario.vessel.radius_at(middle) - radius, 0.0, middle});
  return readings;
}

std::vector<FirstLight> first_lights(const flight::Plan& plan, const FieldView& field,
                                     const std::vector<Design>& designs) {
  std::vector<FirstLight> result;
  if (!field.sources) return result;
  const auto outward = uppermost(*field.sources, 0.5 * plan.vessel.height);
  for (std::size_t i = 0; i < designs.size(); ++i) {
    const double radius = plan.designs[i].moments.disc_radius;
    const auto flux_density = [&](double distance) {
      return mean_over_disc(field, outward.coil->centre + distance * outward.direction, outward.direction,
                            radius);
    };
    for (const auto& fit : designs[i].fits) {
      FirstLight light{designs[i].name, fit.name, outward.coil->name, std::nullopt};
      double dark = farthest_hand, lit = farthest_hand;
      while (lit > nearest_hand && flux_density(lit) < fit.on_flux_density) {
        dark = lit;
        lit /= hand_step;
      }
      if (lit > nearest_hand) {
        for (int halving = 0; halving < 20; ++halving) {
          const double between = 0.5 * (dark + lit);
          (flux_density(between) < fit.on_flux_density ? dark : lit) = between;
        }
        light.distance = lit;
      }
      result.push_back(std::move(light));
    }
  }
  return result;
}

}  // namespace driftglow::sheet
