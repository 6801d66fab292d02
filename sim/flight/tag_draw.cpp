#include "sim/flight/tag_draw.hpp"

#include <algorithm>
#include <cmath>
#include <complex>

#include "models/constants.hpp"
#include "sim/flight/linkage.hpp"

namespace driftglow::flight {
namespace {

constexpr int load_samples = 512;

double radical_inverse(int index, int base) {
  double value = 0.0, digit = 1.0 / base;
  for (; index > 0; index /= base, digit /= base) value += (index % base) * digit;
  return value;
}

// Of a design's receiver with a circuit of the drive [H].
double mutual_inductance(const Plan& plan, const DesignPlan& design, int circuit, double current_peak,
                         const Sample& at) {
  const auto* system = std::get_if<maps::SystemState>(&plan.drive.field);
  if (system == nullptr || system->circuits.size() == 1) return linkage(plan, design, at) / current_peak;
  const Eigen::Vector3cd field =
      system->system.fields(at.place).cast<std::complex<double>>() * system->response.currents.col(circuit);
  return design.moments.area_turns * std::abs(at.axis.cast<std::complex<double>>().dot(field));
}

}  // namespace

Sample sample(const coil::Reach& reach, int number) {
  double r = reach.radius * std::sqrt(radical_inverse(number, 2));
  double z = reach.low + (reach.high - reach.low) * radical_inverse(number, 3);
  if (reach.slope != 0.0) {
    // Evenly in the cone: the cube of its radius is even.
    const double other = reach.radius - std::fabs(reach.slope) * (reach.high - reach.low);
    const double low = reach.slope > 0.0 ? other : reach.radius,
                 high = reach.slope > 0.0 ? reach.radius : other;
    const double cube =
        std::pow(low, 3) + (std::pow(high, 3) - std::pow(low, 3)) * radical_inverse(number, 3);
    const double here = std::cbrt(cube);
    z = reach.low + (here - low) / reach.slope;
    r *= here / reach.radius;
  }
  const double n_z = 2.0 * radical_inverse(number, 5) - 1.0, across = std::sqrt(1.0 - n_z * n_z);
  const double azimuth = 2.0 * constant::pi * radical_inverse(number, 11);
  const double angle = 2.0 * constant::pi * radical_inverse(number, 7);
  return {{r * std::cos(azimuth), r * std::sin(azimuth), z},
          {across * std::cos(angle), across * std::sin(angle), n_z}};
}

double linkage(const Plan& plan, const DesignPlan& design, const Sample& at) {
  const auto &p = at.place, &n = at.axis;
  return with_linkage(plan, design, [&](const auto& rule) {
    return std::sqrt(rule.template squared<double>(design, {p.x(), p.y(), p.z()}, {n.x(), n.y(), n.z()}));
  });
}

std::vector<driver::TagGroup> tag_groups(const Plan& plan, const coil::Reach& reach, int circuit,
                                         Lighting lighting) {
  const double current_peak = maps::circuits_of(plan.drive).at(circuit).point.current_peak;
  std::vector<driver::TagGroup> groups;
  for (const DesignPlan& design : plan.designs) {
    if (!design.tank) continue;
    std::vector<double> mutual;
    for (int i = 1; i <= load_samples; ++i)
      mutual.push_back(mutual_inductance(plan, design, circuit, current_peak, sample(reach, i)));
    for (int fit = 0; fit < design.fit_count(); ++fit) {
      const auto carrying = std::count(design.carried.begin(), design.carried.end(), fit);
      if (carrying == 0) continue;
      groups.push_back({static_cast<double>(carrying), mutual,
                        lighting == Lighting::lit
                            ? driver::lit_response(design.curves[fit])
                            : driver::unlit_response(nominal_tank(*design.tank, design.leds[fit]))});
    }
  }
  return groups;
}

}  // namespace driftglow::flight
