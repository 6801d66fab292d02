#include "models/coil/shorted_turn.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <utility>

#include "models/coil/conductor_inductance.hpp"
#include "models/coil/inductance.hpp"
#include "models/coil/round_wire.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using constant::mu_0;
using constant::pi;

// Half a side of the rectangle's image on the unit circle, from its corner: speed sqrt(2 (cos 2 theta - cos 2
// alpha)) = 2 sqrt(sin(alpha - theta) sin(alpha + theta)), integrated over the root of the distance to the
// corner, in which it and its inverse are smooth.
template <class F>
double over_half_side(double alpha, const F& of_speed) {
  return boost::math::quadrature::gauss_kronrod<double, 31>::integrate(
      [&](double root) {
        const double from_corner = root * root;
        return 2.0 * root *
               of_speed(2.0 * std::sqrt(std::sin(from_corner) * std::sin(2.0 * alpha - from_corner)));
      },
      0.0, std::sqrt(alpha), 12, 1e-13);
}
double half_side(double alpha) {
  return over_half_side(alpha, [](double speed) { return speed; });
}
double half_side_inverse(double alpha) {
  return over_half_side(alpha, [](double speed) { return 1.0 / speed; });
}

SectionShape rectangle(double width, double height) {
  const double longer = std::fmax(width, height), shorter = std::fmin(width, height);
  // The shorter side is the image of |theta| < alpha, alpha <= pi/4; the longer that of the rest.
  const double ratio = shorter / longer;
  double alpha = 0.25 * pi;
  if (ratio < 1.0) {
    std::uintmax_t steps = 200;
    const auto bracket = boost::math::tools::toms748_solve(
        [&](double log_alpha) {
          const double a = std::exp(log_alpha);
          return std::log(half_side(a) / half_side(0.5 * pi - a) / ratio);
        },
        std::log(1e-4), std::log(0.25 * pi), boost::math::tools::eps_tolerance<double>(48), steps);
    alpha = std::exp(0.5 * (bracket.first + bracket.second));
  }
  const double sides = half_side(alpha) + half_side(0.5 * pi - alpha);
  const double inverse = half_side_inverse(alpha) + half_side_inverse(0.5 * pi - alpha);
  const double half_perimeter = width + height;
  // Maxwell's geometric mean distance of a rectangle from itself.
  const double b2 = width * width, c2 = height * height;
  const double log_distance =
      0.5 * std::log(b2 + c2) - b2 / (12.0 * c2) * std::log1p(c2 / b2) -
      c2 / (12.0 * b2) * std::log1p(b2 / c2) +
      2.0 / 3.0 * (width / height * std::atan(height / width) + height / width * std::atan(width / height)) -
      25.0 / 12.0;
  return {.area = width * height,
          .perimeter = 2.0 * half_perimeter,
          .surface_radius = half_perimeter / (2.0 * sides),
          .uniform_distance = std::exp(log_distance),
          .crowding = 16.0 * sides * inverse / (4.0 * pi * pi)};
}

void require(bool right, const char* message) {
  if (!right) throw InputError(message);
}

}  // namespace

namespace metal {
const Metal copper{constant::copper_resistivity_20, constant::copper_temperature_coefficient};
const Metal aluminium{2.8264e-8, 0.00403};
const Metal brass{6.6e-8, 0.0016};
const Metal stainless_steel{7.3e-7, 0.001};
}  // namespace metal

double Metal::resistivity(double temperature) const {
  return resistivity_20 * (1.0 + temperature_coefficient * (temperature - constant::zero_celsius - 20.0));
}

SectionShape shape_of(const Section& section) {
  if (const auto* round = std::get_if<RoundSection>(&section)) {
    require(round->diameter > 0.0 && std::isfinite(round->diameter),
            "a conductor's diameter must be greater than zero");
    const double w = 0.5 * round->diameter;
    return {pi * w * w, 2.0 * pi * w, w, w * std::exp(-0.25), 1.0};
  }
  const auto& bar = std::get<RectangularSection>(section);
  require(bar.width > 0.0 && bar.height > 0.0 && std::isfinite(bar.width) && std::isfinite(bar.height),
          "a conductor's width and height must be greater than zero");
  require(
      bar.width <= 1000.0 * bar.height && bar.height <= 1000.0 * bar.width,
      "one side of a conductor's section is more than 1000 times the other; give the size of solid metal");
  return rectangle(bar.width, bar.height);
}

ShortedTurn::ShortedTurn(ConductorPath path, Section section, Metal metal, double joint_resistance)
    : path_(std::move(path)), shape_(shape_of(section)), metal_(metal), joint_resistance_(joint_resistance) {
  require(metal.resistivity_20 > 0.0 && std::isfinite(metal.resistivity_20) &&
              std::isfinite(metal.temperature_coefficient),
          "a metal's resistivity must be greater than zero");
  require(joint_resistance >= 0.0 && std::isfinite(joint_resistance),
          "the resistance of a closed conductor's joints must not be negative");
  if (const auto* round = std::get_if<RoundSection>(&section)) {
    half_thickness_ = 0.5 * round->diameter;
  } else {
    const auto& bar = std::get<RectangularSection>(section);
    half_thickness_ = 0.5 * std::fmin(bar.width, bar.height);
  }
  if (const auto* turns = std::get_if<TurnPath>(&path_)) {
    if (turns->turns.size() != 1 || turns->turns[0].weight != 1.0)
      throw LogicError("a metal ring is one whole turn");
    const double radius = turns->turns[0].radius;
    require(radius > 2.0 * shape_.surface_radius && std::isfinite(radius),
            "a metal ring's mean radius must be greater than its section");
    length_ = 2.0 * pi * radius;
    surface_inductance_ = loop_inductance(radius, shape_.surface_radius, 0.0);
  } else {
    const auto& rods = std::get<RodPath>(path_);
    require(rods.rods() >= 3, "a loop of rods has at least three corners");
    length_ = 0.0;
    for (std::size_t i = 0; i < rods.rods(); ++i) {
      const double length = (rods.end(i) - rods.begin(i)).norm();
      require(length > 2.0 * shape_.surface_radius && std::isfinite(length),
              "every rod of a loop must be longer than it is thick");
      length_ += length;
    }
    surface_inductance_ = rod_inductance(rods, rods, shape_.surface_radius);
  }
}

std::complex<double> ShortedTurn::internal_impedance(double frequency, double temperature) const {
  const double relative_radius = 2.0 * shape_.crowding * shape_.area /
                                 (shape_.perimeter * skin_depth(metal_.resistivity(temperature), frequency));
  // Over its low-frequency value of a quarter.
  const double remaining = 4.0 * internal_inductance_term(relative_radius);
  return {metal_.resistivity(temperature) / shape_.area * internal_impedance_ratio(relative_radius).real(),
          mu_0 * frequency * std::log(shape_.surface_radius / shape_.uniform_distance) * remaining};
}

double ShortedTurn::resistance(double frequency, double temperature) const {
  return length_ * internal_impedance(frequency, temperature).real() + joint_resistance_;
}

double ShortedTurn::inductance(double frequency, double temperature) const {
  return surface_inductance_ +
         length_ * internal_impedance(frequency, temperature).imag() / (2.0 * pi * frequency);
}

ShortedTurn::Joint ShortedTurn::joint(const ShortedTurn& first, const ShortedTurn& second) {
  const auto* rods = std::get_if<RodPath>(&first.path_);
  const auto* others = std::get_if<RodPath>(&second.path_);
  if (!rods || !others) return {0.0, 0.0};
  const double length = shared_length(*rods, *others);
  if (length == 0.0) return {0.0, 0.0};
  require(first.shape_.area == second.shape_.area && first.shape_.perimeter == second.shape_.perimeter &&
              first.metal_.resistivity_20 == second.metal_.resistivity_20,
          "loops of metal that share a rod must have the same section and metal");
  return {rod_inductance(*rods, *others, first.shape_.surface_radius), length};
}

}  // namespace driftglow::coil
