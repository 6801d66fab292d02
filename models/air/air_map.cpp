#include "models/air/air_map.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "models/air/turbulence.hpp"
#include "models/error.hpp"

namespace driftglow::air {
namespace {

using numeric::Vec3;

// What the map should give at a probe point; the probes lie at y = 0, where the cylindrical components are
// the Cartesian ones.
struct Probe {
  Vec3<double> p_W, u_W;
  double sigma;
};

// Evenly spread by Roberts' additive recurrence: deterministic, and unlike a grid in step with no other grid.
std::vector<Probe> probes_of(const Column& column) {
  constexpr int count = 16384;
  constexpr double golden = 1.32471795724474602596;  // root of x^3 = x + 1
  std::vector<Probe> probes;
  probes.reserve(count);
  for (int i = 1; i <= count; ++i) {
    const double s = std::fmod(i / golden, 1.0), height = std::fmod(i / (golden * golden), 1.0);
    const double r = column.design().radius * std::sqrt(s), z = column.design().height * height;
    const auto u = column.velocity(r, z);
    probes.push_back({{r, 0.0, z}, {u.u_r, u.u_theta, u.u_z}, fluctuation(column.kinetic_energy(r, z))});
  }
  return probes;
}

AirNodes nodes_of(const Column& column, int s_nodes, int z_nodes) {
  const double radius = column.design().radius, height = column.design().height;
  AirNodes nodes;
  for (Eigen::MatrixXd* values :
       {&nodes.stream_over_s, &nodes.turn_rate, &nodes.sigma, &nodes.epsilon_cbrt}) {
    values->resize(s_nodes, z_nodes);
  }
  for (int i = 0; i < s_nodes; ++i) {
    for (int j = 0; j < z_nodes; ++j) {
      const double s = double(i) / (s_nodes - 1), z = height * j / (z_nodes - 1), r = radius * std::sqrt(s);
      const double k = column.kinetic_energy(r, z), epsilon = column.dissipation(r, z);
      nodes.stream_over_s(i, j) = column.stream_over_s(s, z);
      nodes.turn_rate(i, j) = column.turn_rate(s, z);
      nodes.sigma(i, j) = fluctuation(k);
      nodes.epsilon_cbrt(i, j) = std::cbrt(epsilon);
    }
  }
  return nodes;
}

AirMapError error_of(const AirMap& map, const std::vector<Probe>& probes) {
  double speed = 0.0, sigma = 0.0;
  AirMapError error{0.0, 0.0};
  for (const auto& probe : probes) {
    const auto got = map.sample(probe.p_W);
    speed = std::max(speed, norm(probe.u_W));
    sigma = std::max(sigma, probe.sigma);
    error.velocity = std::max(error.velocity, norm(got.u_W - probe.u_W));
    error.sigma = std::max(error.sigma, std::fabs(got.sigma - probe.sigma));
  }
  return {speed > 0.0 ? error.velocity / speed : 0.0, sigma > 0.0 ? error.sigma / sigma : 0.0};
}

struct Trial {
  int s_cells, z_cells;
  double velocity_error;

  int nodes() const { return (s_cells + 1) * (z_cells + 1); }
};

}  // namespace

AirMap::AirMap(double radius, double height, const AirNodes& nodes, AirMapError error, double slope)
    : radius_(radius),
      height_(height),
      slope_(slope),
      inverse_radius_squared_(1.0 / (radius * radius)),
      error_(error) {
  if (!(radius_at(height) > 0.0)) throw LogicError("a map of air needs a wall that does not close");
  const int s_nodes = static_cast<int>(nodes.stream_over_s.rows());
  const int z_nodes = static_cast<int>(nodes.stream_over_s.cols());
  const Eigen::MatrixXd values[] = {nodes.stream_over_s, nodes.turn_rate, nodes.sigma, nodes.epsilon_cbrt};
  map_ = numeric::BsplineMap({0.0, 1.0 / (s_nodes - 1), s_nodes}, {0.0, height / (z_nodes - 1), z_nodes},
                             numeric::EdgeRule::not_a_knot, values, fixed_channels);
}

double AirMap::stream_function(const Vec3<double>& p_W) const {
  const double R = radius_at(p_W.z), per_area = slope_ == 0.0 ? inverse_radius_squared_ : 1.0 / (R * R);
  const double s = (p_W.x * p_W.x + p_W.y * p_W.y) * per_area;
  numeric::Jet<double> jets[channels];
  map_.jets<fixed_channels>(map_.stencil(map_.locate(s, p_W.z)), jets);
  return s * jets[0].f;
}

AirMap map_of(const Column& column, const AirMapLimits& limits) {
  const auto probes = probes_of(column);
  const auto built = [&](const Trial& trial, AirMapError error) {
    return AirMap(column.design().radius, column.design().height,
                  nodes_of(column, trial.s_cells + 1, trial.z_cells + 1), error);
  };
  const auto tried = [&](int s_cells, int z_cells) {
    Trial trial{s_cells, z_cells, 0.0};
    trial.velocity_error = error_of(built(trial, {0.0, 0.0}), probes).velocity;
    return trial;
  };
  Trial best = tried(8, 8);
  while (best.velocity_error > limits.velocity_error) {
    const Trial finer_s = tried(2 * best.s_cells, best.z_cells);
    const Trial finer_z = tried(best.s_cells, 2 * best.z_cells);
    Trial next = finer_s.velocity_error <= finer_z.velocity_error ? finer_s : finer_z;
    // Where one axis alone brings little, the error is shared by both.
    if (next.velocity_error > 0.7 * best.velocity_error) next = tried(2 * best.s_cells, 2 * best.z_cells);
    if (next.nodes() > limits.nodes) break;
    best = next;
  }
  const AirMapError error = error_of(built(best, {0.0, 0.0}), probes);
  return built(best, error);
}

}  // namespace driftglow::air
