#include "models/driver/tolerance.hpp"

#include <algorithm>
#include <string>

#include "models/error.hpp"

namespace driftglow::driver {
namespace {

void check(const TankTolerance& tolerance) {
  for (const double value : {tolerance.inductance, tolerance.capacitance}) {
    if (!(value >= 0.0 && value < 1.0))
      throw InputError("the drive tank's tolerance is " + std::to_string(value) + "; expected 0 to below 1");
  }
}

template <class Driver>
OperatingPoint with_tank(Driver driver, const CoilLoad& coils, const Surroundings& surroundings,
                         const TankDraw& draw, Setting setting) {
  driver.capacitance *= draw.capacitance;
  setting.inductance_factor *= draw.inductance;
  return operating_point(driver, coils, surroundings, setting);
}

template <class Driver>
std::vector<OperatingPoint> corners(const Driver& driver, const CoilLoad& coils,
                                    const Surroundings& surroundings, const TankTolerance& tolerance,
                                    const Setting& setting) {
  check(tolerance);
  std::vector<OperatingPoint> points;
  for (const double first : {0.0, 1.0}) {
    for (const double second : {0.0, 1.0})
      points.push_back(
          built_point(driver, coils, surroundings, draw_tank(tolerance, first, second), setting));
  }
  return points;
}

TankSpread spread(const std::vector<OperatingPoint>& points) {
  TankSpread result{points[0].frequency, points[0].frequency, points[0].current_peak, points[0].current_peak};
  for (const auto& point : points) {
    result.frequency_low = std::min(result.frequency_low, point.frequency);
    result.frequency_high = std::max(result.frequency_high, point.frequency);
    result.current_low = std::min(result.current_low, point.current_peak);
    result.current_high = std::max(result.current_high, point.current_peak);
  }
  return result;
}

}  // namespace

TankDraw draw_tank(const TankTolerance& tolerance, double first, double second) {
  check(tolerance);
  return {1.0 + tolerance.inductance * (2.0 * first - 1.0),
          1.0 + tolerance.capacitance * (2.0 * second - 1.0)};
}

OperatingPoint built_point(const CurrentFedPushPull& driver, const CoilLoad& coils,
                           const Surroundings& surroundings, const TankDraw& draw, Setting setting) {
  return with_tank(driver, coils, surroundings, draw, std::move(setting));
}

OperatingPoint built_point(const VoltageFedSeries& driver, const CoilLoad& coils,
                           const Surroundings& surroundings, const TankDraw& draw, Setting setting) {
  return with_tank(driver, coils, surroundings, draw, std::move(setting));
}

OperatingPoint built_point(const GivenCurrent& driver, const CoilLoad& coils,
                           const Surroundings& surroundings, const TankDraw& draw, Setting setting) {
  setting.inductance_factor *= draw.inductance;
  return operating_point(driver, coils, surroundings, setting);
}

TankSpread tank_spread(const CurrentFedPushPull& driver, const CoilLoad& coils,
                       const Surroundings& surroundings, const TankTolerance& tolerance,
                       const Setting& setting) {
  return spread(corners(driver, coils, surroundings, tolerance, setting));
}

TankSpread tank_spread(const VoltageFedSeries& driver, const CoilLoad& coils,
                       const Surroundings& surroundings, const TankTolerance& tolerance,
                       const Setting& setting) {
  const auto points = corners(driver, coils, surroundings, tolerance, setting);
  TankSpread result = spread(points);
  const auto side = [](const OperatingPoint& a, const OperatingPoint& b) {
    return a.bridge->off_resonance < b.bridge->off_resonance;
  };
  const auto [low, high] = std::minmax_element(points.begin(), points.end(), side);
  if (driver.frequency && low->bridge->off_resonance < 0.0 && high->bridge->off_resonance > 0.0) {
    // Some tank of the range resonates at the given frequency: the capacitance that does so, to the coils as
    // computed.
    VoltageFedSeries tuned = driver;
    const auto nominal = operating_point(driver, coils, surroundings, setting);
    const double ratio = 1.0 + nominal.bridge->off_resonance;
    tuned.capacitance /= ratio * ratio;
    result.current_high =
        std::max(result.current_high, operating_point(tuned, coils, surroundings, setting).current_peak);
  }
  return result;
}

TankSpread tank_spread(const GivenCurrent& driver, const CoilLoad& coils, const Surroundings& surroundings,
                       const TankTolerance& tolerance, const Setting& setting) {
  return spread(corners(driver, coils, surroundings, tolerance, setting));
}

}  // namespace driftglow::driver
