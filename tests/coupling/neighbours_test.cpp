#include "models/coupling/neighbours.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "models/constants.hpp"
#include "models/coupling/pair.hpp"
#include "models/error.hpp"
#include "tests/coupling/examples.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::coupling;
using constant::mu_0;
using constant::pi;

namespace {

NeighbourCoupling worked(double body_radius, int count, double volume) {
  return neighbour_coupling(example::receiver_coil().turns, example::inductance, example::Q, body_radius,
                            count, volume);
}

}  // namespace

// model.md section 3: k about 0.016 at 40 mm between 30 mm tags (an independent implementation; two digits).
TEST_CASE("coupling of the worked tags") {
  const Outside outside("model.md section 3, an independent implementation");
  const auto k = worked(0.020, 24, 9e-3);
  outside.near("coupling of the worked tags at 40 mm", k.contact_coaxial, 0.016, 0.0005);
  CHECK(k.contact_distance == relative(0.040, 1e-12));
  CHECK(k.contact_worst >= k.contact_coaxial);
  CHECK(k.caution_figure() == relative(k.contact_worst * 9.3, 1e-12));
  const auto touching = worked(example::body_radius, 24, 9e-3);
  MESSAGE("36 mm: coaxial ", touching.contact_coaxial, ", worst ", touching.contact_worst, ", rms ",
          touching.contact_rms, "; ", touching.mean_distance, " m: worst ", touching.mean_worst, ", rms ",
          touching.mean_rms, "; k Q ", touching.caution_figure());
  CHECK(touching.contact_worst > k.contact_worst);
  CHECK(touching.needs_caution() == (touching.contact_worst * 9.3 > 0.2));
}

// Closed form far away: dipoles in line, mu0 m^2/(2 pi d^3), and over all directions sqrt(2/3)/2 of that (the
// trace of the squared dipole tensor is 6, over 9). (a/d)^2 = 3e-4 from the size.
TEST_CASE("far neighbours are dipoles") {
  const Outside outside("dipoles in line and over all directions");
  const auto k = worked(0.5, 1, 1.0);
  const double m = coil::flux_moments(example::receiver_coil().turns).area_turns;
  const double in_line = mu_0 * m * m / (2.0 * pi) / example::inductance;
  outside.matches("coupling of far neighbours in line", k.contact_worst, in_line, 1e-3);
  outside.matches("coupling of far neighbours, rms over directions", k.contact_rms,
                  in_line * 0.5 * std::sqrt(2.0 / 3.0), 1e-3);
  CHECK(k.mean_distance == 0.0);
}

// Second route for the root mean square at contact: directions drawn at random; 4000 of them leave 1 % of
// standard error. And none of them beats the worst.
TEST_CASE("random directions at contact") {
  const Outside outside("directions drawn at random, 4 standard errors");
  const auto k = worked(example::body_radius, 24, 9e-3);
  const auto moments = coil::flux_moments(example::receiver_coil().turns);
  std::mt19937_64 engine(17);
  double sum = 0.0, fourth = 0.0, largest = 0.0;
  constexpr int draws = 4000;
  for (int i = 0; i < draws; ++i) {
    const double M =
        pair_mutual_inductance(moments, {Eigen::Vector3d::Zero(), example::direction(engine)}, moments,
                               {0.036 * example::direction(engine), example::direction(engine)});
    const double square = std::pow(M / example::inductance, 2);
    sum += square;
    fourth += square * square;
    largest = std::max(largest, std::sqrt(square));
  }
  const double mean = sum / draws, error = std::sqrt((fourth / draws - mean * mean) / draws);
  outside.near("mean square coupling at contact", k.contact_rms * k.contact_rms, mean, 4.0 * error);
  CHECK(largest < k.contact_worst * 1.015);
  CHECK(largest > 0.85 * k.contact_worst);
}

// Second route for the mean distance: points at random in a cube that closes on itself.
TEST_CASE("distance to the nearest neighbour") {
  const Outside outside("random points in a closed cube, 5 standard errors");
  std::mt19937_64 engine(19);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  constexpr int points = 400, rounds = 10;
  double sum = 0.0, squares = 0.0;
  for (int round = 0; round < rounds; ++round) {
    std::vector<Eigen::Vector3d> place(points);
    for (auto& p : place) p = {uniform(engine), uniform(engine), uniform(engine)};
    double nearest_sum = 0.0;
    for (const auto& p : place) {
      double nearest = 1.0;
      for (const auto& q : place) {
        Eigen::Vector3d d = p - q;
        for (double& x : d) x -= std::round(x);
        if (&p != &q) nearest = std::min(nearest, d.norm());
      }
      nearest_sum += nearest / points;
    }
    sum += nearest_sum;
    squares += nearest_sum * nearest_sum;
  }
  const double mean = sum / rounds, error = std::sqrt((squares / rounds - mean * mean) / (rounds - 1));
  const auto k = neighbour_coupling(example::receiver_coil().turns, example::inductance, example::Q,
                                    example::body_radius, points, 1.0);
  outside.near("distance to the nearest neighbour [m]", k.mean_distance, mean, 5.0 * error);
  CHECK(worked(example::body_radius, 1000, 1e-3).mean_distance == relative(0.036, 1e-12));
}

TEST_CASE("neighbours: faults") {
  CHECK_THROWS_AS(worked(0.010, 24, 9e-3), LogicError);
  CHECK_THROWS_AS(worked(0.018, 0, 9e-3), LogicError);
  CHECK_THROWS_AS(worked(0.018, 24, 0.0), LogicError);
}
