#include "models/receiver/winding_aid.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "models/coil/series_circuit.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::receiver {
namespace {

// Values of the series up to a limit and down to a thousandth of it, rising.
std::vector<double> preferred_up_to(double limit, std::span<const double> decade) {
  if (decade.empty() || decade.front() < 1.0 || decade.back() >= 10.0 ||
      !std::is_sorted(decade.begin(), decade.end()))
    throw LogicError("winding aid: a decade of preferred values runs from 1 to below 10, rising");
  const int top = static_cast<int>(std::floor(std::log10(limit))) + 1;
  std::vector<double> values;
  for (int power = top - 4; power <= top; ++power) {
    for (const double value : decade) {
      const double scaled = value * std::pow(10.0, power);
      if (scaled <= limit) values.push_back(scaled);
    }
  }
  return values;
}

void require_wanted(double wanted) {
  if (!(std::isfinite(wanted) && wanted > 0.0))
    throw LogicError("winding aid: the wanted capacitance must be positive");
}

CapacitorChoice choice(double first, double second, double wanted) {
  return {first, second, (first + second) / wanted - 1.0};
}

// The logarithm of V |1 + Z (Y + 2 I/V)|: the LED as the conductance that takes the fundamental 2 I of narrow
// pulses of mean I. V needs to be rough only.
double log_balance(const TankDesign& tank, double omega, double mean_current) {
  double V = tank.led.forward_voltage(4.0 * mean_current);
  if (tank.antiparallel) V = std::fmin(V, tank.antiparallel->forward_voltage(4.0 * mean_current));
  const std::complex<double> Z(tank.resistance, omega * tank.inductance);
  const std::complex<double> Y(tank.loss_conductance(omega) + 2.0 * mean_current / V,
                               omega * tank.total_capacitance());
  return std::log(V * std::abs(1.0 + Z * Y));
}

TankDesign built(const TankDesign& design, const BuildTolerances& tolerances,
                 const std::array<double, 3>& x) {
  TankDesign tank = design;
  tank.inductance *= 1.0 + x[0] * tolerances.inductance;
  tank.capacitance *= 1.0 + x[1] * tolerances.capacitance;
  tank.led = design.led.shifted(x[2] * tolerances.led_voltage);
  if (tank.antiparallel) tank.antiparallel = design.antiparallel->shifted(x[2] * tolerances.led_voltage);
  return tank;
}

double solved_threshold(const TankDesign& tank, double omega, double mean_current,
                        const GlowCurve::Weights& weights) {
  double emf = 2.0 * std::exp(log_balance(tank, omega, mean_current));
  for (int doubling = 0; doubling < 12; ++doubling, emf *= 2.0) {
    const double threshold = solve_glow_curve(tank, omega, emf).threshold_emf(mean_current, weights);
    if (std::isfinite(threshold)) return threshold;
  }
  throw LogicError("winding aid: the threshold current is not reached at any EMF");
}

// Extrema of Chebyshev's polynomial on -1..1, or the middle alone.
std::vector<double> nodes_for(double tolerance) {
  if (tolerance == 0.0) return {0.0};
  std::vector<double> nodes;
  for (int i = 0; i < 5; ++i) nodes.push_back(-std::cos(0.25 * constant::pi * i));
  return nodes;
}

// Midpoints of even steps on -1..1, or the middle alone.
std::vector<double> places_for(double tolerance) {
  if (tolerance == 0.0) return {0.0};
  std::vector<double> places;
  for (int i = 0; i < 50; ++i) places.push_back((2 * i + 1) / 50.0 - 1.0);
  return places;
}

// Lagrange's weights of the nodes at each place.
std::vector<std::vector<double>> lagrange(const std::vector<double>& nodes,
                                          const std::vector<double>& places) {
  std::vector<std::vector<double>> rows;
  for (const double place : places) {
    rows.emplace_back();
    for (const double node : nodes) {
      double weight = 1.0;
      for (const double other : nodes) {
        if (other != node) weight *= (place - other) / (node - other);
      }
      rows.back().push_back(weight);
    }
  }
  return rows;
}

}  // namespace

double tuning_capacitance(double inductance, double omega, double present) {
  if (!(inductance > 0.0 && omega > 0.0 && present >= 0.0))
    throw LogicError("winding aid: inductance and frequency must be positive");
  const double wanted = 1.0 / (omega * omega * inductance) - present;
  if (!(wanted > 0.0))
    throw InputError(
        "tank: the capacitance that is there already tunes the coil below the wanted frequency; use fewer "
        "turns");
  return wanted;
}

CapacitorChoice nearest_single(double wanted, std::span<const double> decade) {
  require_wanted(wanted);
  CapacitorChoice best{0.0, 0.0, HUGE_VAL};
  for (const double value : preferred_up_to(11.0 * wanted, decade)) {
    const auto candidate = choice(value, 0.0, wanted);
    if (std::fabs(candidate.error) < std::fabs(best.error)) best = candidate;
  }
  return best;
}

CapacitorChoice nearest_pair(double wanted, std::span<const double> decade) {
  require_wanted(wanted);
  const auto values = preferred_up_to(1.5 * wanted, decade);
  CapacitorChoice best{0.0, 0.0, HUGE_VAL};
  for (std::size_t first = values.size(); first-- > 0;) {
    for (std::size_t second = 0; second <= first; ++second) {
      const auto candidate = choice(values[first], values[second], wanted);
      // Rounding must not choose between equals.
      if (std::fabs(candidate.error) < std::fabs(best.error) - 1e-12) best = candidate;
    }
  }
  return best;
}

int turns_that_fit(double axial_length, int layers, const coil::Wire& wire, double pitch) {
  if (!(pitch > 0.0 && layers >= 1)) throw LogicError("winding aid: pitch and layers must be positive");
  if (axial_length < wire.enamelled_diameter) return 0;
  // A length that is so many pitches exactly must not lose a turn to rounding.
  return layers * (1 + static_cast<int>(std::floor((axial_length - wire.enamelled_diameter) / pitch + 1e-9)));
}

WindingFigures winding_figures(const coil::Winding& winding, double frequency, double temperature) {
  const coil::SeriesCircuit circuit({coil::wind(winding, 0.0, coil::Sense::right_handed)});
  const coil::WoundCoil& wound = circuit.coils().front();
  const auto R = circuit.resistance(frequency, temperature);
  return {wound.wire_length,  wound.copper_mass, R.dc, R.total, circuit.inductance(frequency, temperature),
          wound.axial_length, wound.outer_radius};
}

ThresholdSpread threshold_spread(const TankDesign& design, double omega, double mean_current,
                                 const BuildTolerances& tolerances, double low, double high,
                                 const GlowCurve::Weights& weights) {
  check(design);
  if (!(omega > 0.0 && mean_current > 0.0 && low > 0.0 && high >= low))
    throw LogicError("winding aid: current and limits of the threshold must be positive");
  const std::array<double, 3> width{tolerances.inductance, tolerances.capacitance, tolerances.led_voltage};
  if (!(width[0] >= 0.0 && width[0] < 1.0 && width[1] >= 0.0 && width[1] < 1.0 && width[2] >= 0.0 &&
        std::isfinite(width[2])))
    throw InputError("tank: a tolerance must be at least 0, those of L and C less than 100 %");

  std::array<std::vector<double>, 3> nodes, places;
  std::array<std::vector<std::vector<double>>, 3> weight;
  for (int d = 0; d < 3; ++d) {
    nodes[d] = nodes_for(width[d]);
    places[d] = places_for(width[d]);
    weight[d] = lagrange(nodes[d], places[d]);
  }

  ThresholdSpread spread{solved_threshold(design, omega, mean_current, weights), HUGE_VAL, 0.0, 0.0};
  const auto take = [&](double threshold) {
    spread.lowest = std::fmin(spread.lowest, threshold);
    spread.highest = std::fmax(spread.highest, threshold);
  };
  std::vector<double> rest;  // in the order of the nodes, the last dimension fastest
  for (const double l : nodes[0]) {
    for (const double c : nodes[1]) {
      for (const double v : nodes[2]) {
        const TankDesign tank = built(design, tolerances, {l, c, v});
        const double threshold = solved_threshold(tank, omega, mean_current, weights);
        take(threshold);
        rest.push_back(std::log(threshold) - log_balance(tank, omega, mean_current));
      }
    }
  }

  std::size_t within = 0, all = 0;
  for (std::size_t l = 0; l < places[0].size(); ++l) {
    for (std::size_t c = 0; c < places[1].size(); ++c) {
      std::vector<double> line(nodes[2].size(), 0.0);
      for (std::size_t i = 0; i < nodes[0].size(); ++i) {
        for (std::size_t k = 0; k < nodes[1].size(); ++k) {
          for (std::size_t v = 0; v < line.size(); ++v)
            line[v] += weight[0][l][i] * weight[1][c][k] * rest[(i * nodes[1].size() + k) * line.size() + v];
        }
      }
      for (std::size_t v = 0; v < places[2].size(); ++v) {
        double sum = log_balance(built(design, tolerances, {places[0][l], places[1][c], places[2][v]}), omega,
                                 mean_current);
        for (std::size_t n = 0; n < line.size(); ++n) sum += weight[2][v][n] * line[n];
        const double threshold = std::exp(sum);
        take(threshold);
        within += threshold >= low && threshold <= high ? 1 : 0;
        ++all;
      }
    }
  }
  spread.share_within = static_cast<double>(within) / static_cast<double>(all);
  return spread;
}

}  // namespace driftglow::receiver
