#include "models/coupling/neighbours.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "models/constants.hpp"
#include "models/coupling/pair.hpp"
#include "models/error.hpp"

namespace driftglow::coupling {
namespace {

using constant::pi;

Pose origin(double angle) {
  return {Eigen::Vector3d::Zero(), {std::sin(angle), 0.0, std::cos(angle)}};
}

Pose beside(double distance, double polar, double azimuth) {
  return {{0.0, 0.0, distance},
          {std::sin(polar) * std::cos(azimuth), std::sin(polar) * std::sin(azimuth), std::cos(polar)}};
}

struct Angles {
  double first, second;
};

// The angles from the line between the centres, in one plane, of the largest |M|.
Angles worst_angles(const coil::FluxMoments& coil, double distance) {
  Angles best{0.0, 0.0};
  double largest = 0.0;
  const auto look = [&](double first, double second) {
    const double value =
        std::fabs(pair_mutual_inductance(coil, origin(first), coil, beside(distance, second, 0.0)));
    if (value > largest) {
      largest = value;
      best = {first, second};
    }
  };
  double step = pi / 12.0;
  for (int i = 0; i <= 12; ++i) {
    for (int j = 0; j <= 12; ++j) look(i * step, j * step);
  }
  for (int round = 0; round < 6; ++round) {
    step *= 0.5;
    const Angles centre = best;
    for (const double u : {-step, 0.0, step}) {
      for (const double v : {-step, 0.0, step}) look(centre.first + u, centre.second + v);
    }
  }
  return best;
}

double rms_mutual(const coil::FluxMoments& coil, double distance) {
  using boost::math::quadrature::gauss;
  // M is odd in either axis, so M^2 needs half of each sphere only.
  const auto over_second = [&](double first) {
    return gauss<double, 10>::integrate(
        [&](double cosine) {
          constexpr int azimuths = 12;
          double sum = 0.0;
          for (int i = 0; i < azimuths; ++i) {
            const double M =
                pair_mutual_inductance(coil, origin(std::acos(first)), coil,
                                       beside(distance, std::acos(cosine), 2.0 * pi * i / azimuths));
            sum += M * M;
          }
          return sum / azimuths;
        },
        -1.0, 1.0);
  };
  return std::sqrt(0.5 * gauss<double, 10>::integrate(over_second, 0.0, 1.0));
}

}  // namespace

NeighbourCoupling neighbour_coupling(std::span<const coil::Turn> receiver, double inductance, double Q,
                                     double body_radius, int count, double volume) {
  const auto moments = coil::flux_moments(receiver);
  if (!(inductance > 0.0) || !(Q > 0.0) || !(volume > 0.0) || count < 1)
    throw LogicError("neighbour coupling: a value is out of range");
  if (!(body_radius > moments.disc_radius))
    throw LogicError("neighbour coupling: a coil larger than its tag");
  const double contact = 2.0 * body_radius;
  const auto exact = [&](double distance, const Angles& at) {
    return std::fabs(
               mutual_inductance(receiver, origin(at.first), receiver, beside(distance, at.second, 0.0))) /
           inductance;
  };
  NeighbourCoupling result{};
  result.Q = Q;
  result.contact_distance = contact;
  result.contact_coaxial = exact(contact, {0.0, 0.0});
  result.contact_worst = std::max(result.contact_coaxial, exact(contact, worst_angles(moments, contact)));
  result.contact_rms = rms_mutual(moments, contact) / inductance;
  if (count == 1) return result;
  const double spacing = std::tgamma(4.0 / 3.0) * std::cbrt(3.0 * volume / (4.0 * pi * count));
  result.mean_distance = std::max(contact, spacing);
  result.mean_worst = exact(result.mean_distance, worst_angles(moments, result.mean_distance));
  result.mean_rms = rms_mutual(moments, result.mean_distance) / inductance;
  return result;
}

}  // namespace driftglow::coupling
