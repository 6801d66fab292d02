#include "models/air/gridded.hpp"

#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <sstream>

#include "models/air/turbulence.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"
#include "models/numeric/cubic_spline.hpp"
#include "models/numeric/square.hpp"

namespace driftglow::air {
namespace {

using numeric::square;

using Sparse = Eigen::SparseMatrix<double>;
using Triplets = std::vector<Eigen::Triplet<double>>;

// Even cells of s in [0, 1] and of zeta = z/R, with cubic B-splines over them.
struct Knots {
  int s_cells, z_cells;
  double z_length;  // 1, H/R

  int columns() const { return z_cells + 3; }
  int count() const { return (s_cells + 3) * columns(); }
  int index(int i, int j) const { return i * columns() + j; }
  double s_step() const { return 1.0 / s_cells; }
  double z_step() const { return z_length / z_cells; }
};

// The 16 coefficients that a place sees, and their weights in the value and its slopes.
struct Footprint {
  int index[16];
  double value[16], by_s[16], by_z[16];
};

Footprint footprint(const Knots& knots, double s, double zeta) {
  const double x = s / knots.s_step(), y = zeta / knots.z_step();
  const int i = std::clamp(int(x), 0, knots.s_cells - 1), j = std::clamp(int(y), 0, knots.z_cells - 1);
  const numeric::CubicWeights<double> along_s(x - i), along_z(y - j);
  Footprint seen;
  for (int a = 0; a < 4; ++a) {
    for (int b = 0; b < 4; ++b) {
      const int k = 4 * a + b;
      seen.index[k] = knots.index(i + a, j + b);
      seen.value[k] = along_s.value[a] * along_z.value[b];
      seen.by_s[k] = along_s.slope[a] * along_z.value[b] / knots.s_step();
      seen.by_z[k] = along_s.value[a] * along_z.slope[b] / knots.z_step();
    }
  }
  return seen;
}

struct Jet {
  double value, by_s, by_z;
};

Jet evaluate(const Knots& knots, const Eigen::VectorXd& coefficients, double s, double zeta) {
  const auto seen = footprint(knots, s, zeta);
  Jet jet{0.0, 0.0, 0.0};
  for (int k = 0; k < 16; ++k) {
    const double c = coefficients[seen.index[k]];
    jet.value += seen.value[k] * c;
    jet.by_s += seen.by_s[k] * c;
    jet.by_z += seen.by_z[k] * c;
  }
  return jet;
}

// Mean over the domain of the squared derivative of an order along s plus that along zeta, as the rows whose
// squares sum to it.
Sparse roughness(const Knots& knots, int order) {
  const double binomial[2][4] = {{1.0, -2.0, 1.0, 0.0}, {-1.0, 3.0, -3.0, 1.0}};
  const auto& difference = binomial[order - 2];
  const double share = 1.0 / std::sqrt(double(knots.s_cells) * knots.z_cells);
  const double along_s = share * std::pow(knots.s_step(), -order);
  const double along_z = share * std::pow(knots.z_step(), -order);
  Triplets entries;
  int row = 0;
  for (int i = 0; i < knots.s_cells + 3; ++i) {
    for (int j = 0; j < knots.columns(); ++j) {
      if (i + order < knots.s_cells + 3) {
        for (int k = 0; k <= order; ++k)
          entries.emplace_back(row, knots.index(i + k, j), along_s * difference[k]);
        ++row;
      }
      if (j + order < knots.columns()) {
        for (int k = 0; k <= order; ++k)
          entries.emplace_back(row, knots.index(i, j + k), along_z * difference[k]);
        ++row;
      }
    }
  }
  Sparse rows(row, knots.count());
  rows.setFromTriplets(entries.begin(), entries.end());
  return rows;
}

// Coefficients of chi from unknowns: those at the outer edge (beyond the wall) are replaced by the values
// that the spline takes at the wall, one for all heights below `open_from` (in zeta).
Sparse with_wall(const Knots& knots, double open_from) {
  const int last = knots.s_cells + 2;
  const int wall_value = knots.index(last, 0);
  Triplets entries;
  int unknowns = wall_value + 1;
  for (int j = 0; j < knots.columns(); ++j) {
    for (int i = 0; i < last; ++i) entries.emplace_back(knots.index(i, j), knots.index(i, j), 1.0);
    const bool closed = (j - 3) * knots.z_step() < open_from;
    const int edge = knots.index(last, j);
    entries.emplace_back(edge, closed ? wall_value : unknowns++, 6.0);
    entries.emplace_back(edge, knots.index(last - 1, j), -4.0);
    entries.emplace_back(edge, knots.index(last - 2, j), -1.0);
  }
  Sparse map(knots.count(), unknowns);
  map.setFromTriplets(entries.begin(), entries.end());
  return map;
}

// Rows of a least-squares fit, each already times the root of its weight.
struct Rows {
  Triplets entries;
  std::vector<double> wanted;

  template <class Weights>
  void add(const Footprint& seen, double root_weight, double value, const Weights& weights) {
    const int row = static_cast<int>(wanted.size());
    for (int k = 0; k < 16; ++k) entries.emplace_back(row, seen.index[k], root_weight * weights(k));
    wanted.push_back(root_weight * value);
  }
};

// Trace of the influence of the wanted values on the fitted ones: exact for few values, else the mean over
// random signs, whose scatter is then small beside the trace.
double influence(const Sparse& design, const Eigen::SimplicialLDLT<Sparse>& factor) {
  constexpr Eigen::Index few = 400, probes = 8;
  if (design.rows() <= few) {
    const Eigen::MatrixXd solved = factor.solve(Eigen::MatrixXd(design.transpose()));
    return (design * solved).trace();
  }
  std::mt19937 random(1);
  double sum = 0.0;
  for (Eigen::Index n = 0; n < probes; ++n) {
    Eigen::VectorXd probe(design.rows());
    for (double& sign : probe) sign = random() & 1u ? 1.0 : -1.0;
    sum += probe.dot(design * factor.solve(design.transpose() * probe));
  }
  return sum / probes;
}

// Share of the values' degrees of freedom that smoothing must leave.
constexpr double least_free_share = 0.1;

// Coefficients of the smoothed fit; `basis` gives them from the unknowns.
Eigen::VectorXd fit(const Knots& knots, const Rows& rows, const Sparse& basis, int order) {
  const int count = static_cast<int>(rows.wanted.size());
  const Eigen::Map<const Eigen::VectorXd> wanted(rows.wanted.data(), count);
  if (wanted.squaredNorm() == 0.0) return Eigen::VectorXd::Zero(knots.count());
  Sparse of_coefficients(count, knots.count());
  of_coefficients.setFromTriplets(rows.entries.begin(), rows.entries.end());
  const Sparse design = of_coefficients * basis;
  const Sparse rough = roughness(knots, order) * basis;
  const Sparse normal = Sparse(design.transpose()) * design;
  const Sparse penalty = Sparse(rough.transpose()) * rough;
  const Eigen::VectorXd right = design.transpose() * wanted;
  struct Trial {
    Eigen::VectorXd unknowns;
    double validation;
  };
  std::vector<Trial> trials;
  Eigen::SimplicialLDLT<Sparse> factor;
  constexpr double strongest = 1e-3, weakest = 1e-16;
  for (double lambda = strongest; lambda > 0.5 * weakest; lambda *= 0.1) {
    const Sparse system = normal + lambda * penalty;
    if (trials.empty()) factor.analyzePattern(system);
    factor.factorize(system);
    if (factor.info() != Eigen::Success) throw LogicError("the fit to the air grid is singular");
    Trial trial{factor.solve(right), 0.0};
    const double residual = (wanted - design * trial.unknowns).squaredNorm();
    const double free_share = 1.0 - influence(design, factor) / count;
    // With hardly a degree of freedom left per value, the score divides rounding by rounding and a fit
    // through all scatter can win.
    if (free_share < least_free_share && !trials.empty()) break;
    trial.validation = residual / square(free_share);
    trials.push_back(std::move(trial));
    if (residual < 1e-10 * wanted.squaredNorm()) break;  // nothing left that smoothing could be for
  }
  const auto best = std::min_element(trials.begin(), trials.end(), [](const Trial& a, const Trial& b) {
    return a.validation < b.validation;
  });
  return basis * best->unknowns;
}

Sparse all_free(const Knots& knots) {
  Sparse identity(knots.count(), knots.count());
  identity.setIdentity();
  return identity;
}

// Lengths that the nodes stand for, from the middles between them, 0 and `end` closing the first and last.
std::vector<double> middles(const std::vector<double>& nodes, double end) {
  std::vector<double> edges{0.0};
  for (std::size_t i = 1; i < nodes.size(); ++i) edges.push_back(0.5 * (nodes[i - 1] + nodes[i]));
  edges.push_back(end);
  return edges;
}

void require_cover(const std::vector<double>& nodes, double end, const char* axis, const char* low,
                   const char* high) {
  const auto refuse = [&](double node, const char* what, const char* expected) {
    std::ostringstream text;
    text << "the grid's " << axis << " of " << 1e3 * node << " mm " << what << "; expected " << expected;
    throw InputError(text.str());
  };
  const double rounding = 1e-6 * end;
  const std::size_t n = nodes.size();
  if (n < 4) {
    std::ostringstream text;
    text << "the grid has " << n << " values of " << axis << "; expected at least 4";
    throw InputError(text.str());
  }
  if (nodes.front() < -rounding || nodes.back() > end + rounding) {
    std::ostringstream beyond;
    beyond << "lies outside the vessel, whose " << axis << " ends at " << 1e3 * end << " mm";
    const bool below = nodes.front() < -rounding;
    refuse(below ? nodes.front() : nodes.back(), beyond.str().c_str(), "nodes inside it only");
  }
  if (nodes.front() > nodes[1] - nodes[0] + rounding)
    refuse(nodes.front(), (std::string("is the first and far from the ") + low).c_str(),
           "the first node at most one spacing from it");
  if (end - nodes.back() > nodes[n - 1] - nodes[n - 2] + rounding)
    refuse(nodes.back(), (std::string("is the last and far from the ") + high).c_str(),
           "the last node at most one spacing from it");
}

void require_shapes(const AirGrid& grid) {
  const auto fits = [&](const Eigen::MatrixXd& values) {
    return values.rows() == Eigen::Index(grid.r.size()) && values.cols() == Eigen::Index(grid.z.size()) &&
           values.allFinite();
  };
  const auto fits_if = [&](const std::optional<Eigen::MatrixXd>& values) { return !values || fits(*values); };
  const auto rising = [](const std::vector<double>& nodes) {
    return std::adjacent_find(nodes.begin(), nodes.end(), std::greater_equal<>()) == nodes.end();
  };
  if (!fits(grid.u_theta) || !fits(grid.u_z) || !fits_if(grid.u_r) || !fits_if(grid.kinetic_energy) ||
      !fits_if(grid.dissipation) || !rising(grid.r) || !rising(grid.z))
    throw LogicError("air grid: values do not fit the axes");
  if (grid.dissipation && !grid.kinetic_energy)
    throw InputError(
        "the grid has a dissipation rate but no kinetic energy; expected both, or no dissipation rate");
}

// The fitted fields, each over its own scale.
class Fitted {
 public:
  explicit Fitted(const AirGrid& grid)
      : grid_(grid),
        knots_{std::clamp(2 * int(grid.r.size()), 8, 48), std::clamp(int(grid.z.size()), 8, 64),
               grid.height / grid.radius},
        speed_(largest_speed()) {
    const auto r_edges = middles(grid.r, grid.radius), z_edges = middles(grid.z, grid.height);
    volume_.resize(grid.r.size(), grid.z.size());
    for (int i = 0; i < volume_.rows(); ++i) {
      for (int j = 0; j < volume_.cols(); ++j) {
        volume_(i, j) = (square(r_edges[i + 1]) - square(r_edges[i])) * (z_edges[j + 1] - z_edges[j]) /
                        (square(grid.radius) * grid.height);
      }
    }
    if (speed_ > 0.0) {
      chi_ = fit_chi();
      gamma_ = fit_field(grid.u_theta, speed_, [&](double s) { return std::sqrt(s); });
    } else {
      chi_ = gamma_ = Eigen::VectorXd::Zero(knots_.count());
    }
    const auto none = [](double) { return 1.0; };
    if (grid.kinetic_energy) {
      const Eigen::MatrixXd sigma = grid.kinetic_energy->unaryExpr(&fluctuation);
      sigma_scale_ = sigma.maxCoeff();
      sigma_ = fit_field(sigma, sigma_scale_, none);
    }
    if (grid.dissipation) {
      const Eigen::MatrixXd cbrt = grid.dissipation->unaryExpr([](double e) { return std::cbrt(e); });
      cbrt_scale_ = cbrt.maxCoeff();
      cbrt_ = fit_field(cbrt, cbrt_scale_, none);
    }
  }

  const Knots& knots() const { return knots_; }
  double speed() const { return speed_; }

  double chi(double s, double z) const {
    return 0.5 * speed_ * square(grid_.radius) * evaluate(knots_, chi_, s, z / grid_.radius).value;
  }
  double turn_rate(double s, double z) const {
    return speed_ / grid_.radius * evaluate(knots_, gamma_, s, z / grid_.radius).value;
  }
  CylindricalVelocity velocity(double r, double z) const {
    const double s = square(r / grid_.radius);
    const auto chi = evaluate(knots_, chi_, s, z / grid_.radius);
    return {-0.5 * speed_ * r / grid_.radius * chi.by_z, r * turn_rate(s, z),
            speed_ * (chi.value + s * chi.by_s)};
  }
  double sigma(double s, double z) const {
    if (grid_.kinetic_energy)
      return std::max(0.0, sigma_scale_ * evaluate(knots_, sigma_, s, z / grid_.radius).value);
    const auto u = velocity(grid_.radius * std::sqrt(s), z);
    return fluctuation(1.5 * square(grid_.turbulence_intensity) *
                           (square(u.u_r) + square(u.u_theta) + square(u.u_z)) +
                       grid_.turbulence_floor);
  }
  double epsilon_cbrt(double s, double z) const {
    if (grid_.dissipation)
      return std::max(0.0, cbrt_scale_ * evaluate(knots_, cbrt_, s, z / grid_.radius).value);
    return std::cbrt(dissipation_from_length(1.5 * square(sigma(s, z)), grid_.length_scale));
  }

  ProjectionChange change() const {
    ProjectionChange change{0.0, 0.0, 0.0, 0.0};
    if (speed_ == 0.0) return change;
    for (int i = 0; i < volume_.rows(); ++i) {
      for (int j = 0; j < volume_.cols(); ++j) {
        const auto u = velocity(grid_.r[i], grid_.z[j]);
        const double squared = (grid_.u_r ? square(u.u_r - (*grid_.u_r)(i, j)) : 0.0) +
                               square(u.u_theta - grid_.u_theta(i, j)) + square(u.u_z - grid_.u_z(i, j));
        change.rms += volume_(i, j) * squared;
        if (squared > square(change.largest)) {
          change = {change.rms, std::sqrt(squared), grid_.r[i], grid_.z[j]};
        }
      }
    }
    return {std::sqrt(change.rms) / speed_, change.largest / speed_, change.r, change.z};
  }

 private:
  double largest_speed() const {
    Eigen::ArrayXXd squared = grid_.u_theta.array().square() + grid_.u_z.array().square();
    if (grid_.u_r) squared += grid_.u_r->array().square();
    return std::sqrt(squared.maxCoeff());
  }

  Eigen::VectorXd fit_chi() const {
    Rows rows;
    for (int i = 0; i < volume_.rows(); ++i) {
      const double x = grid_.r[i] / grid_.radius, s = square(x);
      for (int j = 0; j < volume_.cols(); ++j) {
        const auto seen = footprint(knots_, s, grid_.z[j] / grid_.radius);
        const double root = std::sqrt(volume_(i, j));
        rows.add(seen, root, grid_.u_z(i, j) / speed_,
                 [&](int k) { return seen.value[k] + s * seen.by_s[k]; });
        if (grid_.u_r && x > 0.0)
          rows.add(seen, root, (*grid_.u_r)(i, j) / speed_, [&](int k) { return -0.5 * x * seen.by_z[k]; });
      }
    }
    const double open_from = grid_.open_above.value_or(2.0 * grid_.height) / grid_.radius;
    return fit(knots_, rows, with_wall(knots_, open_from), 3);
  }

  // The field times `factor`(s) is what the values are.
  template <class Factor>
  Eigen::VectorXd fit_field(const Eigen::MatrixXd& values, double scale, const Factor& factor) const {
    if (scale == 0.0) return Eigen::VectorXd::Zero(knots_.count());
    Rows rows;
    for (int i = 0; i < volume_.rows(); ++i) {
      const double s = square(grid_.r[i] / grid_.radius), times = factor(s);
      if (times == 0.0) continue;
      for (int j = 0; j < volume_.cols(); ++j) {
        const auto seen = footprint(knots_, s, grid_.z[j] / grid_.radius);
        rows.add(seen, std::sqrt(volume_(i, j)), values(i, j) / scale,
                 [&](int k) { return times * seen.value[k]; });
      }
    }
    return fit(knots_, rows, all_free(knots_), 2);
  }

  const AirGrid& grid_;
  Knots knots_;
  double speed_, sigma_scale_ = 0.0, cbrt_scale_ = 0.0;
  Eigen::MatrixXd volume_;  // 1, shares of the vessel's
  Eigen::VectorXd chi_, gamma_, sigma_, cbrt_;
};

// rms over the grid's cells of what flows out of each over its volume, times R/U.
double divergence_before(const AirGrid& grid, double speed) {
  if (!grid.u_r || speed == 0.0) return 0.0;
  double sum = 0.0, volume = 0.0;
  for (std::size_t i = 0; i + 1 < grid.r.size(); ++i) {
    for (std::size_t j = 0; j + 1 < grid.z.size(); ++j) {
      const Eigen::Index a = static_cast<Eigen::Index>(i), b = static_cast<Eigen::Index>(j);
      const double inner = grid.r[i], outer = grid.r[i + 1], height = grid.z[j + 1] - grid.z[j];
      const auto side = [&](Eigen::Index at) { return 0.5 * ((*grid.u_r)(at, b) + (*grid.u_r)(at, b + 1)); };
      // of a u_z that is straight in r over the ring, times r
      const auto plane = [&](Eigen::Index at) {
        const double first = grid.u_z(a, at), last = grid.u_z(a + 1, at);
        return (outer - inner) * (first * (2.0 * inner + outer) + last * (inner + 2.0 * outer)) / 6.0;
      };
      const double out = height * (outer * side(a + 1) - inner * side(a)) + plane(b + 1) - plane(b);
      const double cell = 0.5 * (outer * outer - inner * inner) * height;
      sum += out * out / cell;
      volume += cell;
    }
  }
  return std::sqrt(sum / volume) * grid.radius / speed;
}

// Of a map against the fit, in the middles of the map's cells.
AirMapError error_of(const AirMap& map, const Fitted& fitted) {
  double sigma = 0.0;
  AirMapError error{0.0, 0.0};
  const int s_cells = map.s_nodes() - 1, z_cells = map.z_nodes() - 1;
  for (int i = 0; i < s_cells; ++i) {
    for (int j = 0; j < z_cells; ++j) {
      const double s = (i + 0.5) / s_cells, r = map.radius() * std::sqrt(s);
      const double z = map.height() * (j + 0.5) / z_cells;
      const auto u = fitted.velocity(r, z);
      const auto got = map.sample<double>({r, 0.0, z});
      error.velocity =
          std::max(error.velocity, std::hypot(got.u_W.x - u.u_r, got.u_W.y - u.u_theta, got.u_W.z - u.u_z));
      error.sigma = std::max(error.sigma, std::fabs(got.sigma - fitted.sigma(s, z)));
      sigma = std::max(sigma, fitted.sigma(s, z));
    }
  }
  return {fitted.speed() > 0.0 ? error.velocity / fitted.speed() : 0.0,
          sigma > 0.0 ? error.sigma / sigma : 0.0};
}

}  // namespace

GriddedAir project(const AirGrid& grid) {
  require_shapes(grid);
  require_cover(grid.r, grid.radius, "r", "axis", "wall");
  require_cover(grid.z, grid.height, "z", "floor", "lid");
  const Fitted fitted(grid);
  // With every second node a knot of the fit, the map's own spline is that of the fit.
  const int s_nodes = 2 * fitted.knots().s_cells + 1, z_nodes = 2 * fitted.knots().z_cells + 1;
  AirNodes nodes;
  for (Eigen::MatrixXd* values :
       {&nodes.stream_over_s, &nodes.turn_rate, &nodes.sigma, &nodes.epsilon_cbrt}) {
    values->resize(s_nodes, z_nodes);
  }
  for (int i = 0; i < s_nodes; ++i) {
    for (int j = 0; j < z_nodes; ++j) {
      const double s = double(i) / (s_nodes - 1), z = grid.height * j / (z_nodes - 1);
      nodes.stream_over_s(i, j) = fitted.chi(s, z);
      nodes.turn_rate(i, j) = fitted.turn_rate(s, z);
      nodes.sigma(i, j) = fitted.sigma(s, z);
      nodes.epsilon_cbrt(i, j) = fitted.epsilon_cbrt(s, z);
    }
  }
  AirMap trial(grid.radius, grid.height, nodes, {0.0, 0.0});
  return {AirMap(grid.radius, grid.height, nodes, error_of(trial, fitted)),
          2.0 * constant::pi * fitted.chi(1.0, 0.0), fitted.speed(), fitted.change(),
          divergence_before(grid, fitted.speed())};
}

}  // namespace driftglow::air
