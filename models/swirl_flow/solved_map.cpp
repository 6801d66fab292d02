#include "models/swirl_flow/solved_map.hpp"

#include <cmath>

#include "models/air/turbulence.hpp"
#include "models/error.hpp"
#include "models/swirl_flow/monotone.hpp"

namespace driftglow::swirl_flow {
namespace {

std::vector<double> even(double last, int cells) {
  std::vector<double> nodes;
  for (int i = 0; i <= cells; ++i) nodes.push_back(last * i / cells);
  return nodes;
}

// values(i, j) at (s[i], z[j]), along s first.
Eigen::MatrixXd resampled(const Eigen::MatrixXd& values, const std::vector<double>& s,
                          const std::vector<double>& z, const std::vector<double>& s_new,
                          const std::vector<double>& z_new) {
  const auto along = [](const Eigen::MatrixXd& f, const std::vector<double>& x,
                        const std::vector<double>& x_new) {
    Eigen::MatrixXd result(x_new.size(), f.cols());
    std::vector<double> line(x.size());
    for (Eigen::Index j = 0; j < f.cols(); ++j) {
      Eigen::VectorXd::Map(line.data(), f.rows()) = f.col(j);
      const auto column = monotone_resampled(x, line, x_new);
      result.col(j) = Eigen::VectorXd::Map(column.data(), result.rows());
    }
    return result;
  };
  return along(along(values, s, s_new).transpose(), z, z_new).transpose();
}

// The z cells, z_cells to 5/4 of them, for which an edge lies nearest to a node.
int cells_meeting(double share, int z_cells) {
  int best = z_cells;
  double least = 1.0;
  for (int n = z_cells; n <= z_cells + z_cells / 4; ++n) {
    const double off = std::fabs(share * n - std::round(share * n));
    if (off < least - 1e-9) least = off, best = n;
  }
  return best;
}

}  // namespace

SolvedMap::SolvedMap(double radius, double height, const Eigen::MatrixXd& stream_function,
                     const Eigen::MatrixXd& turn_rate, const Eigen::MatrixXd& sigma,
                     const Eigen::MatrixXd& epsilon_cbrt)
    : radius_(radius), height_(height), inverse_radius_squared_(1.0 / (radius * radius)) {
  if ((stream_function.row(0).array() != 0.0).any())
    throw LogicError("the stream function is not 0 on the axis");
  const Eigen::MatrixXd values[] = {stream_function, turn_rate, sigma, epsilon_cbrt};
  const int s_nodes = static_cast<int>(stream_function.rows()),
            z_nodes = static_cast<int>(stream_function.cols());
  map_ = HermiteMap({0.0, 1.0 / (s_nodes - 1), s_nodes}, {0.0, height / (z_nodes - 1), z_nodes}, values);
}

SolvedMap map_of(const SolvedVessel& vessel, int s_cells, int z_cells) {
  const FlowCase& flow = vessel.flow_case;
  const double radius = flow.r_faces.back(), height = flow.z_faces.back();
  std::vector<double> s_faces, s_middles, z_faces, z_middles;
  int first = 0;  // z face of the mesh
  while (flow.z_faces[first] < -1e-9 * height) ++first;
  for (const double r : flow.r_faces) s_faces.push_back(r * r / (radius * radius));
  for (int i = 0; i < flow.r_cells(); ++i) {
    const double r = 0.5 * (flow.r_faces[i] + flow.r_faces[i + 1]);
    s_middles.push_back(r * r / (radius * radius));
  }
  double gap_edge = height;
  for (int j = first; j <= flow.z_cells(); ++j) {
    z_faces.push_back(flow.z_faces[j]);
    if (j == flow.z_cells()) continue;
    z_middles.push_back(0.5 * (flow.z_faces[j] + flow.z_faces[j + 1]));
    if (flow.outer[j].kind == BoundaryKind::vent) gap_edge = std::min(gap_edge, flow.z_faces[j]);
  }
  const auto s_nodes = even(1.0, s_cells), z_nodes = even(height, cells_meeting(gap_edge / height, z_cells));
  const auto cells = static_cast<Eigen::Index>(z_middles.size());
  const auto middles = [&](const Eigen::ArrayXXd& values) {
    return resampled(values.rightCols(cells).matrix(), s_middles, z_middles, s_nodes, z_nodes);
  };
  Eigen::ArrayXXd turn_rate = vessel.field.angular_momentum;
  for (Eigen::Index i = 0; i < turn_rate.rows(); ++i) turn_rate.row(i) /= s_middles[i] * radius * radius;
  Eigen::ArrayXXd psi = vessel.stream_function.rightCols(cells + 1);
  // Along a closed wall psi is the whole flow exactly, not but for the rounding of its sum.
  const double whole = psi(psi.rows() - 1, 0);
  for (Eigen::Index j = 1; j <= cells && flow.outer[first + j - 1].kind == BoundaryKind::wall; ++j) {
    psi(psi.rows() - 1, j) = whole;
  }
  return {radius,
          height,
          resampled(psi.matrix(), s_faces, z_faces, s_nodes, z_nodes),
          middles(turn_rate),
          middles(vessel.field.kinetic_energy.unaryExpr(&air::fluctuation)),
          middles(vessel.field.dissipation.unaryExpr([](double e) { return std::cbrt(e); }))};
}

}  // namespace driftglow::swirl_flow
