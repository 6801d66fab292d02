#include "models/receiver/led_fit.hpp"

#include <doctest/doctest.h>
#include <gsl/gsl_blas.h>
#include <gsl/gsl_multifit_nlinear.h>

#include <cmath>
#include <string>
#include <vector>

#include "models/constants.hpp"
#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/receiver/examples.hpp"

using namespace driftglow;
using namespace driftglow::receiver;

namespace {

using Points = std::vector<std::pair<double, double>>;

double sum_of_squares(const Points& points, const LedLaw& law) {
  double sum = 0.0;
  for (const auto& [i, v] : points) {
    sum += std::pow(law.forward_voltage(i) - v, 2);
  }
  return sum;
}

double thermal_voltage() {
  return constant::boltzmann * example::temperature / constant::elementary_charge;
}

}  // namespace

// Known answer: points made by the law itself; the worst point is met to the rounding of the minimisation
// (half the digits of a voltage of 2 V).
TEST_CASE("parameters that made the points are found again") {
  const Outside outside("known answer: points made by the law");
  for (const LedLaw& law : {example::yellow_green(), example::white()}) {
    Points points;
    for (const double i : {1e-5, 1e-4, 1e-3, 5e-3, 2e-2}) {
      points.emplace_back(i, law.forward_voltage(i));
    }
    const LedFit fit = fit_led(points, example::reverse, example::temperature);
    CHECK(fit.worst_residual <= 1e-7);
    outside.matches("ideality found again", fit.law.parameters().ideality, law.parameters().ideality, 1e-5);
    outside.matches("series resistance found again [ohm]", fit.law.parameters().series_resistance,
                    law.parameters().series_resistance, 1e-5);
  }
}

// Reference library: GSL's Levenberg-Marquardt over (n_id, ln I_s, R_s) on points that no law meets. Its
// convergence tolerance is 1e-10 in the parameters; the sums of squares then agree to rounding.
TEST_CASE("least squares agree with GSL where no bound is active") {
  const Outside outside("GSL's Levenberg-Marquardt");
  Points points{{1e-5, 1.64}, {5e-5, 1.72}, {2e-4, 1.79}, {1e-3, 1.88},
                {5e-3, 1.99}, {1e-2, 2.06}, {2e-2, 2.17}};
  const LedFit fit = fit_led(points, example::reverse, example::temperature);

  gsl_multifit_nlinear_parameters controls = gsl_multifit_nlinear_default_parameters();
  auto* work = gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &controls, points.size(), 3);
  gsl_multifit_nlinear_fdf problem{};
  problem.f = [](const gsl_vector* x, void* data, gsl_vector* f) {
    const auto& given = *static_cast<Points*>(data);
    for (std::size_t j = 0; j < given.size(); ++j) {
      const double junction = std::log1p(given[j].first / std::exp(gsl_vector_get(x, 1)));
      gsl_vector_set(f, j,
                     gsl_vector_get(x, 0) * thermal_voltage() * junction +
                         gsl_vector_get(x, 2) * given[j].first - given[j].second);
    }
    return static_cast<int>(GSL_SUCCESS);
  };
  problem.n = points.size();
  problem.p = 3;
  problem.params = &points;
  gsl_vector* start = gsl_vector_alloc(3);
  gsl_vector_set(start, 0, 2.0);
  gsl_vector_set(start, 1, -43.0);
  gsl_vector_set(start, 2, 5.0);
  gsl_multifit_nlinear_init(start, &problem, work);
  int info = 0;
  gsl_multifit_nlinear_driver(500, 1e-10, 1e-10, 0.0, nullptr, nullptr, &info, work);
  double norm = gsl_blas_dnrm2(gsl_multifit_nlinear_residual(work));
  outside.matches("residual of the LED fit [V]", std::sqrt(sum_of_squares(points, fit.law)), norm, 1e-6);
  outside.matches("ideality of the LED fit", fit.law.parameters().ideality, gsl_vector_get(work->x, 0), 1e-4);
  outside.matches("series resistance of the LED fit [ohm]", fit.law.parameters().series_resistance,
                  gsl_vector_get(work->x, 2), 1e-4);
  gsl_multifit_nlinear_free(work);
  gsl_vector_free(start);
}

TEST_CASE("bounds hold, and no neighbour within them fits better") {
  // Concave in the logarithm: would ask for a negative R_s. Steep: would ask for n_id of 20.
  for (const Points& points : {Points{{1e-4, 1.5}, {1e-3, 1.8}, {1e-2, 1.9}, {2e-2, 1.92}},
                               Points{{1e-4, 1.0}, {1e-3, 2.2}, {1e-2, 3.4}, {2e-2, 3.8}}}) {
    const LedFit fit = fit_led(points, example::reverse, example::temperature);
    const LedParameters best = fit.law.parameters();
    CHECK(best.ideality >= ideality_lowest);
    CHECK(best.ideality <= ideality_highest);
    CHECK(best.series_resistance >= 0.0);
    const double squares = sum_of_squares(points, fit.law);
    for (const double dn : {-0.01, 0.0, 0.01}) {
      for (const double ds : {-0.01, 0.0, 0.01}) {
        for (const double dr : {0.0, 0.01}) {
          LedParameters other = best;
          other.ideality += dn;
          other.saturation_current *= std::exp(ds);
          other.series_resistance += dr;
          if (other.ideality >= ideality_lowest && other.ideality <= ideality_highest) {
            CHECK(sum_of_squares(points, LedLaw(other)) >= squares * (1.0 - 1e-9));
          }
        }
      }
    }
  }
}

TEST_CASE("points that cannot be fitted are the user's error") {
  const auto fit = [](const Points& points) {
    return fit_led(points, example::reverse, example::temperature);
  };
  CHECK_THROWS_AS(fit({{1e-3, 1.8}, {2e-2, 2.0}}), InputError);
  CHECK_THROWS_AS(fit({{1e-3, 1.8}, {1e-3, 1.9}, {2e-2, 2.0}}), InputError);
  CHECK_THROWS_AS(fit({{1e-3, 1.8}, {5e-3, 1.7}, {2e-2, 2.0}}), InputError);
  CHECK_THROWS_AS(fit({{0.0, 0.0}, {5e-3, 1.7}, {2e-2, 2.0}}), InputError);
  CHECK_THROWS_AS(fit({{1e-3, 1.8}, {5e-3, NAN}, {2e-2, 2.0}}), InputError);
}

TEST_CASE("a point within a factor ten of the threshold current") {
  const Points points{{1e-3, 1.8}, {5e-3, 1.9}, {2e-2, 2.0}};
  CHECK(has_point_within_factor_ten(points, 0.2e-3));
  CHECK(has_point_within_factor_ten(points, 0.15));
  CHECK(!has_point_within_factor_ten(points, 0.99e-4));
  CHECK(!has_point_within_factor_ten(points, 0.21));
}

// Common practice, no source: 0.2 mA takes about 1.7-1.8 V in a yellow-green LED and about 2.6 V in a white
// one. Photon energy as the second route: an LED begins to glow near hc/(q lambda), less about 0.5 V at these
// currents.
TEST_CASE("the library of typical emitters fits the law and orders by photon energy") {
  std::vector<std::pair<std::string, double>> voltages;
  for (const auto& [name, points] : example::typical_emitters()) {
    const LedFit fit = fit_led(points, example::reverse, example::temperature);
    const LedParameters law = fit.law.parameters();
    MESSAGE(name << ": n_id " << law.ideality << ", I_s " << law.saturation_current << " A, R_s "
                 << law.series_resistance << " ohm, worst " << 1e3 * fit.worst_residual << " mV");
    CHECK(fit.worst_residual <= 0.03);
    CHECK(law.ideality > 1.3);
    CHECK(law.ideality < 4.0);
    CHECK(has_point_within_factor_ten(points, 0.2e-3));
    voltages.emplace_back(name, fit.law.forward_voltage(0.2e-3));
  }
  REQUIRE(voltages.size() == 6);
  for (std::size_t i = 1; i < 5; ++i) {
    CHECK_MESSAGE(voltages[i].second > voltages[i - 1].second, voltages[i].first);
  }
  const double photon[] = {640e-9, 595e-9, 570e-9, 525e-9, 465e-9, 455e-9};
  for (std::size_t i = 0; i < 6; ++i) {
    const double energy = 6.62607015e-34 * 299792458.0 / (constant::elementary_charge * photon[i]);
    CHECK(voltages[i].second < energy);
    CHECK(voltages[i].second > energy - 0.6);
  }
}
