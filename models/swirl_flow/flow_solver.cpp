#include "models/swirl_flow/flow_solver.hpp"

#include <Eigen/IterativeLinearSolvers>
#include <algorithm>
#include <cmath>
#include <limits>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::swirl_flow {
namespace {

using Eigen::ArrayXd;
using Eigen::ArrayXXd;

// Standard k-epsilon with its authors' wall constants [launder1974]; the logarithmic law meets the viscous
// sublayer, ln(E y*)/kappa = y*, at y* = 11.225.
constexpr double c_mu = 0.09, c_1 = 1.44, c_2 = 1.92, prandtl_k = 1.0, prandtl_epsilon = 1.3;
constexpr double von_karman = 0.4187, wall_constant = 9.793, laminar_limit = 11.225;
constexpr double least_kinetic_energy = 1e-10;  // m2/s2, keeps divisions finite where nothing moves
constexpr double vent_relaxation = 0.7;
constexpr int factor_life = 10;  // iterations that a pressure factor preconditions

// Flux times the difference between van Leer's face value and the upwind one; the face lies between nodes m -
// 1 and m of `count`, F > 0 towards m. Next to an end of the row the face value is central.
template <class Place, class Value>
double limited_part(double flux, double face, int m, int count, Place x, Value v) {
  const bool forward = flux >= 0.0;
  const int up = forward ? m - 1 : m, down = forward ? m : m - 1, far = forward ? m - 2 : m + 1;
  const double b = (v(down) - v(up)) / (x(down) - x(up));
  const double a = far >= 0 && far < count ? (v(up) - v(far)) / (x(up) - x(far)) : b;
  const double slope = a * b > 0.0 ? 2.0 * a * b / (a + b) : 0.0;
  return flux * slope * (face - x(up));
}

void clear(NodeEquations& e, Eigen::Index rows, Eigen::Index columns) {
  for (ArrayXXd* a : {&e.P, &e.W, &e.E, &e.S, &e.N, &e.b}) a->setZero(rows, columns);
}

// Lines along r and along z in turn, forth and back, on nodes [i0, i1) x [j0, j1); the nodes around them are
// held.
void sweep(const NodeEquations& e, ArrayXXd& x, int i0, int i1, int j0, int j1, int times) {
  const auto value = [&](int i, int j) {
    return i < 0 || j < 0 || i >= x.rows() || j >= x.cols() ? 0.0 : x(i, j);
  };
  std::vector<double> c(static_cast<std::size_t>(std::max(x.rows(), x.cols())));
  const auto along_r = [&](int j) {
    double previous = 0.0, carried = 0.0;
    for (int i = i0; i < i1; ++i) {
      double b = e.b(i, j) + e.S(i, j) * value(i, j - 1) + e.N(i, j) * value(i, j + 1);
      if (i == i0) b += e.W(i, j) * value(i - 1, j);
      if (i == i1 - 1) b += e.E(i, j) * value(i + 1, j);
      const double w = i == i0 ? 0.0 : e.W(i, j), pivot = 1.0 / (e.P(i, j) - w * previous);
      previous = c[i] = e.E(i, j) * pivot;
      carried = (b + w * carried) * pivot;
      x(i, j) = carried;
    }
    for (int i = i1 - 2; i >= i0; --i) x(i, j) += c[i] * x(i + 1, j);
  };
  const auto along_z = [&](int i) {
    double previous = 0.0, carried = 0.0;
    for (int j = j0; j < j1; ++j) {
      double b = e.b(i, j) + e.W(i, j) * value(i - 1, j) + e.E(i, j) * value(i + 1, j);
      if (j == j0) b += e.S(i, j) * value(i, j - 1);
      if (j == j1 - 1) b += e.N(i, j) * value(i, j + 1);
      const double s = j == j0 ? 0.0 : e.S(i, j), pivot = 1.0 / (e.P(i, j) - s * previous);
      previous = c[j] = e.N(i, j) * pivot;
      carried = (b + s * carried) * pivot;
      x(i, j) = carried;
    }
    for (int j = j1 - 2; j >= j0; --j) x(i, j) += c[j] * x(i, j + 1);
  };
  for (int t = 0; t < times; ++t) {
    for (int j = j0; j < j1; ++j) along_r(j);
    for (int i = i0; i < i1; ++i) along_z(i);
    for (int j = j1 - 1; j >= j0; --j) along_r(j);
    for (int i = i1 - 1; i >= i0; --i) along_z(i);
  }
}

// Sum of |residual| over sum of P times `scale` (of P |x| where scale is 0); relaxes the equations after.
double residual_and_relax(NodeEquations& e, const ArrayXXd& x, int i0, int i1, int j0, int j1, double scale,
                          double relaxation) {
  double defect = 0.0, size = 0.0;
  for (int j = j0; j < j1; ++j) {
    for (int i = i0; i < i1; ++i) {
      double r = e.b(i, j) - e.P(i, j) * x(i, j);
      if (i > 0) r += e.W(i, j) * x(i - 1, j);
      if (i + 1 < x.rows()) r += e.E(i, j) * x(i + 1, j);
      if (j > 0) r += e.S(i, j) * x(i, j - 1);
      if (j + 1 < x.cols()) r += e.N(i, j) * x(i, j + 1);
      defect += std::fabs(r);
      size += e.P(i, j) * (scale > 0.0 ? scale : std::fabs(x(i, j)));
      const double relaxed = e.P(i, j) / relaxation;
      e.b(i, j) += (relaxed - e.P(i, j)) * x(i, j);
      e.P(i, j) = relaxed;
    }
  }
  return size > 0.0 ? defect / size : 0.0;
}

// Linear between the nodes, the end values beyond them.
struct Between {
  int low;
  double share;
};
Between between(const ArrayXd& nodes, double x) {
  const int count = static_cast<int>(nodes.size());
  if (count < 2 || x <= nodes(0)) return {0, 0.0};
  if (x >= nodes(count - 1)) return {count - 2, 1.0};
  const int i = static_cast<int>(std::upper_bound(nodes.begin(), nodes.end(), x) - nodes.begin()) - 1;
  return {i, (x - nodes(i)) / (nodes(i + 1) - nodes(i))};
}
ArrayXXd resampled(const ArrayXXd& from, const ArrayXd& r_from, const ArrayXd& z_from, const ArrayXd& r,
                   const ArrayXd& z) {
  ArrayXXd to(r.size(), z.size());
  for (Eigen::Index j = 0; j < z.size(); ++j) {
    const auto v = between(z_from, z(j));
    const int v1 = std::min<int>(v.low + 1, static_cast<int>(z_from.size()) - 1);
    for (Eigen::Index i = 0; i < r.size(); ++i) {
      const auto u = between(r_from, r(i));
      const int u1 = std::min<int>(u.low + 1, static_cast<int>(r_from.size()) - 1);
      to(i, j) = (1.0 - u.share) * ((1.0 - v.share) * from(u.low, v.low) + v.share * from(u.low, v1)) +
                 u.share * ((1.0 - v.share) * from(u1, v.low) + v.share * from(u1, v1));
    }
  }
  return to;
}

ArrayXd array_of(const std::vector<double>& v) {
  return Eigen::Map<const ArrayXd>(v.data(), static_cast<Eigen::Index>(v.size()));
}
ArrayXd middles(const ArrayXd& faces) {
  return 0.5 * (faces.head(faces.size() - 1) + faces.tail(faces.size() - 1));
}

}  // namespace

class FlowSolver::LaggedFactor {
 public:
  using StorageIndex = int;
  enum { ColsAtCompileTime = Eigen::Dynamic, MaxColsAtCompileTime = Eigen::Dynamic };
  const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>* factor = nullptr;

  template <class Matrix>
  LaggedFactor& analyzePattern(const Matrix&) {
    return *this;
  }
  template <class Matrix>
  LaggedFactor& factorize(const Matrix&) {
    return *this;
  }
  template <class Matrix>
  LaggedFactor& compute(const Matrix&) {
    return *this;
  }
  template <class Right>
  Eigen::VectorXd solve(const Right& b) const {
    return factor->solve(b);
  }
  Eigen::ComputationInfo info() const { return Eigen::Success; }
};

FlowSolver::FlowSolver(FlowCase flow_case)
    : case_(std::move(flow_case)), nr_(case_.r_cells()), nz_(case_.z_cells()) {
  const auto rising = [](const std::vector<double>& v) {
    return std::adjacent_find(v.begin(), v.end(), [](double a, double b) { return !(b > a); }) == v.end();
  };
  const auto holds = [](const std::vector<Boundary>& edge, int n) {
    return static_cast<int>(edge.size()) == n;
  };
  if (nr_ < 2 || nz_ < 2 || !rising(case_.r_faces) || !rising(case_.z_faces) || case_.r_faces[0] < 0.0 ||
      !holds(case_.inner, nz_) || !holds(case_.outer, nz_) || !holds(case_.bottom, nr_) ||
      !holds(case_.top, nr_) || !(case_.widening.empty() || case_.widening.size() == case_.z_faces.size()) ||
      !(case_.density > 0.0) || !(case_.dynamic_viscosity > 0.0)) {
    throw LogicError("a flow case needs rising faces, a boundary for each face, density and viscosity");
  }
  r_ = array_of(case_.r_faces), z_ = array_of(case_.z_faces);
  rc_ = middles(r_), zc_ = middles(z_);
  dr_ = r_.tail(nr_) - r_.head(nr_), dz_ = z_.tail(nz_) - z_.head(nz_);
  area_ = constant::pi * (r_.tail(nr_).square() - r_.head(nr_).square());
  inner_share_ = (rc_.square() - r_.head(nr_).square()) * constant::pi / area_;
  lay_wall();
  screen_deflection_.assign(nz_ + 1, -1.0), screen_loss_.assign(nz_ + 1, 0.0);
  for (const auto& screen : case_.screens) {
    screen_deflection_.at(screen.face) = screen.deflection;
    screen_loss_.at(screen.face) = screen.loss;
  }
  fin_plates_.setZero(nr_, nz_), fin_friction_.setZero(nr_, nz_);
  for (const auto& fins : case_.fins) {
    fin_plates_.block(fins.first_r, fins.first_z, fins.last_r - fins.first_r, fins.last_z - fins.first_z) =
        fins.count;
    fin_friction_.block(fins.first_r, fins.first_z, fins.last_r - fins.first_r, fins.last_z - fins.first_z) =
        fins.skin_friction;
  }
  field_.u_r.setZero(nr_ + 1, nz_), field_.u_z.setZero(nr_, nz_ + 1);
  field_.angular_momentum.setZero(nr_, nz_), field_.pressure.setZero(nr_, nz_);
  double k = least_kinetic_energy, epsilon = 0.0;
  for (const auto* edge : {&case_.bottom, &case_.top, &case_.inner, &case_.outer}) {
    for (const auto& b : *edge) {
      if (b.kind == BoundaryKind::inlet && b.kinetic_energy > k)
        k = b.kinetic_energy, epsilon = b.dissipation;
    }
  }
  // Eddy viscosity at most 100 times the molecular one to start with.
  epsilon = std::max({epsilon, 1e-12, c_mu * k * k * case_.density / (100.0 * case_.dynamic_viscosity)});
  field_.kinetic_energy.setConstant(nr_, nz_, k), field_.dissipation.setConstant(nr_, nz_, epsilon);
  for (auto* conductance : {&wall_conductance_, &turn_conductance_})
    for (int e = 0; e < 4; ++e) (*conductance)[e].assign(e < 2 ? nz_ : nr_, 0.0);
  radial_mobility_.setZero(nr_ + 1, nz_), axial_mobility_.setZero(nr_, nz_ + 1);

  const int unknowns = nr_ * nz_;
  std::vector<Eigen::Triplet<double>> pattern;
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      const int n = j * nr_ + i;
      pattern.emplace_back(n, n, 1.0);
      if (i > 0) pattern.emplace_back(n - 1, n, 0.0);
      if (i + 1 < nr_) pattern.emplace_back(n + 1, n, 0.0);
      if (j > 0) pattern.emplace_back(n - nr_, n, 0.0);
      if (j + 1 < nz_) pattern.emplace_back(n + nr_, n, 0.0);
    }
  }
  pressure_matrix_.resize(unknowns, unknowns);
  pressure_matrix_.setFromTriplets(pattern.begin(), pattern.end());
  factor_ = std::make_unique<Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>>();
  factor_->analyzePattern(pressure_matrix_);
  apply_inlets();
  update_fluxes();
}

void FlowSolver::lay_wall() {
  tapered_ = !case_.widening.empty();
  width_z_ = tapered_ ? array_of(case_.widening) : ArrayXd(ArrayXd::Ones(nz_ + 1));
  const ArrayXd low = width_z_.head(nz_), high = width_z_.tail(nz_);
  width_ = 0.5 * (low + high);
  swelling_ = (low.square() + low * high + high.square()) / 3.0;
  slope_ = (high - low) / dz_;
  slope_z_.resize(nz_ + 1);
  slope_z_(0) = slope_(0), slope_z_(nz_) = slope_(nz_ - 1);
  for (int j = 1; j < nz_; ++j) slope_z_(j) = 0.5 * (slope_(j - 1) + slope_(j));
  if (!tapered_) return;
  // The solid body's balance, of the gradients that the momentum equations use.
  ArrayXXd half_square(nr_, nz_);
  for (int j = 0; j < nz_; ++j) half_square.col(j) = 0.5 * (width_(j) * rc_).square();
  radial_centrifugal_.setZero(nr_ + 1, nz_), axial_centrifugal_.setZero(nr_, nz_ + 1);
  for (int j = 0; j < nz_; ++j) {
    for (int i = 1; i < nr_; ++i) radial_centrifugal_(i, j) = radial_gradient(half_square, i, j);
    for (int i = 0; i < nr_ && j > 0; ++i) axial_centrifugal_(i, j) = axial_gradient(half_square, i, j);
  }
}

// What pressure does to the momentum across a side face, N per Pa: along r less the face's slope times along
// z, over the volume between the middles of two cells; the first part by the face's own neighbours.
double FlowSolver::radial_gradient(const ArrayXXd& p, int i, int j) const {
  const double slope = r_(i) * slope_(j);
  const double direct = two_pi * r_(i) * width_(j) * dz_(j) * (1.0 + slope * slope) * (p(i, j) - p(i - 1, j));
  const int below = std::max(j - 1, 0), above = std::min(j + 1, nz_ - 1);
  const double along_z =
      0.5 * (p(i, above) - p(i, below) + p(i - 1, above) - p(i - 1, below)) / (zc_(above) - zc_(below));
  const double volume =
      ((1.0 - inner_share_(i - 1)) * area_(i - 1) + inner_share_(i) * area_(i)) * swelling_(j) * dz_(j);
  return direct - slope * along_z * volume;
}

// The same along z at constant r.
double FlowSolver::axial_gradient(const ArrayXXd& p, int i, int j) const {
  const double area = area_(i) * width_z_(j) * width_z_(j);
  const int in = std::max(i - 1, 0), out = std::min(i + 1, nr_ - 1);
  double along_r = 0.0;
  for (const int cell : {j - 1, j})
    along_r += 0.5 * (p(out, cell) - p(in, cell)) / ((rc_(out) - rc_(in)) * width_(cell));
  return area * (p(i, j) - p(i, j - 1)) - rc_(i) * slope_z_(j) * along_r * area * (zc_(j) - zc_(j - 1));
}

// u_z at side faces; at a wall what runs along it there.
double FlowSolver::face_u_z(int i, int j) const {
  const int in = std::max(i - 1, 0), out = std::min(i, nr_ - 1);
  if (case_.turbulence == Turbulence::laminar &&
      ((i == 0 && is_wall(Edge::inner, j)) || (i == nr_ && is_wall(Edge::outer, j))))
    return 0.0;
  return 0.25 * (field_.u_z(in, j) + field_.u_z(out, j) + field_.u_z(in, j + 1) + field_.u_z(out, j + 1));
}

// Derivatives in the cells' middles, along r and at constant r along z.
void FlowSolver::differentiate(const ArrayXXd& v, bool still_at_wall, Slopes& slopes) const {
  slopes.r.resize(nr_, nz_), slopes.z.resize(nr_, nz_);
  for (int j = 0; j < nz_; ++j) {
    const int below = std::max(j - 1, 0), above = std::min(j + 1, nz_ - 1);
    const bool still = still_at_wall && is_wall(Edge::outer, j);
    for (int i = 0; i < nr_; ++i) {
      const int in = std::max(i - 1, 0), out = std::min(i + 1, nr_ - 1);
      const bool at_wall = still && i == nr_ - 1;
      slopes.r(i, j) = at_wall ? -v(in, j) / ((r_(nr_) - rc_(in)) * width_(j))
                               : (v(out, j) - v(in, j)) / ((rc_(out) - rc_(in)) * width_(j));
      slopes.z(i, j) =
          (v(i, above) - v(i, below)) / (zc_(above) - zc_(below)) - rc_(i) * slope_(j) * slopes.r(i, j);
    }
  }
}

void FlowSolver::update_slopes() {
  if (!tapered_) return;
  const bool laminar = case_.turbulence == Turbulence::laminar;
  ArrayXXd u_r(nr_, nz_), u_z(nr_, nz_), turn_rate(nr_, nz_);
  for (int j = 0; j < nz_; ++j) {
    u_z.col(j) = 0.5 * (field_.u_z.col(j) + field_.u_z.col(j + 1));
    u_r.col(j) =
        0.5 * (field_.u_r.col(j).head(nr_) + field_.u_r.col(j).tail(nr_)) + slope_(j) * rc_ * u_z.col(j);
    turn_rate.col(j) = field_.angular_momentum.col(j) / (width_(j) * rc_).square();
  }
  differentiate(u_r, laminar, slopes_u_r_);
  differentiate(u_z, laminar, slopes_u_z_);
  differentiate(turn_rate, false, slopes_turn_rate_);
}

const std::vector<Boundary>& FlowSolver::boundary(Edge edge) const {
  const std::vector<Boundary>* edges[] = {&case_.inner, &case_.outer, &case_.bottom, &case_.top};
  return *edges[static_cast<int>(edge)];
}

void FlowSolver::set_field(const FlowField& field) {
  field_ = field;
  apply_inlets();
  update_fluxes();
  since_factor_ = -1;
}

void FlowSolver::set_field(const FlowCase& from, const FlowField& field) {
  const ArrayXd r = array_of(from.r_faces), z = array_of(from.z_faces), rc = middles(r), zc = middles(z);
  set_field({resampled(field.u_r, r, zc, r_, zc_), resampled(field.u_z, rc, z, rc_, z_),
             resampled(field.angular_momentum, rc, zc, rc_, zc_), resampled(field.pressure, rc, zc, rc_, zc_),
             resampled(field.kinetic_energy, rc, zc, rc_, zc_),
             resampled(field.dissipation, rc, zc, rc_, zc_)});
}

void FlowSolver::apply_inlets() {
  const auto set = [](double& u, const Boundary& b, double inward) {
    if (b.kind == BoundaryKind::inlet) u = inward * b.speed;
    if (b.kind == BoundaryKind::wall || b.kind == BoundaryKind::symmetry) u = 0.0;
  };
  for (int j = 0; j < nz_; ++j) {
    set(field_.u_r(0, j), case_.inner[j], 1.0);
    set(field_.u_r(nr_, j), case_.outer[j], -1.0);
  }
  for (int i = 0; i < nr_; ++i) {
    set(field_.u_z(i, 0), case_.bottom[i], 1.0);
    set(field_.u_z(i, nz_), case_.top[i], -1.0);
  }
}

void FlowSolver::rescale(double factor) {
  const double square = factor * factor;
  for (auto* edge : {&case_.inner, &case_.outer, &case_.bottom, &case_.top}) {
    for (auto& b : *edge) {
      b.speed *= factor, b.swirl_speed *= factor;
      b.kinetic_energy *= square, b.dissipation *= square * factor;
    }
  }
  field_.u_r *= factor, field_.u_z *= factor, field_.angular_momentum *= factor;
  field_.pressure *= square, field_.kinetic_energy *= square, field_.dissipation *= square * factor;
  update_fluxes();
}

void FlowSolver::set_inlet_angular_momentum(const std::vector<double>& angular_momentum) {
  for (int i = 0; i < nr_; ++i) case_.bottom[i].swirl_speed = angular_momentum.at(i) / rc_(i);
}

void FlowSolver::update_fluxes() {
  radial_flux_.resize(nr_ + 1, nz_), axial_flux_.resize(nr_, nz_ + 1);
  for (int j = 0; j < nz_; ++j)
    radial_flux_.col(j) = case_.density * two_pi * dz_(j) * width_(j) * r_ * field_.u_r.col(j);
  for (int j = 0; j <= nz_; ++j)
    axial_flux_.col(j) = case_.density * width_z_(j) * width_z_(j) * area_ * field_.u_z.col(j);
}

double FlowSolver::meridional_square(int i, int j) const {
  const double w = 0.5 * (field_.u_z(i, j) + field_.u_z(i, j + 1));
  const double u = 0.5 * (field_.u_r(i, j) + field_.u_r(i + 1, j)) + slope_(j) * rc_(i) * w;
  return u * u + w * w;
}

double FlowSolver::cell_speed(int i, int j) const {
  const double v = field_.angular_momentum(i, j) / cell_radius(i, j);
  return std::sqrt(meridional_square(i, j) + v * v);
}

double FlowSolver::speed_scale() const {
  double sum = 0.0, volume = 0.0;
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      const double v = cell_volume(i, j), speed = cell_speed(i, j);
      sum += v * speed * speed, volume += v;
    }
  }
  return std::max(std::sqrt(sum / volume), 1e-12);
}

void FlowSolver::update_viscosity() {
  const double mu = case_.dynamic_viscosity, rho = case_.density;
  const bool turbulent = case_.turbulence == Turbulence::k_epsilon;
  viscosity_.setConstant(nr_, nz_, mu);
  if (turbulent) {
    viscosity_ += rho * c_mu * field_.kinetic_energy.square() / field_.dissipation.max(1e-14);
  }
  corner_viscosity_.resize(nr_ + 1, nz_ + 1);
  for (int j = 0; j <= nz_; ++j) {
    const int j0 = std::max(j - 1, 0), j1 = std::min(j, nz_ - 1);
    for (int i = 0; i <= nr_; ++i) {
      const int i0 = std::max(i - 1, 0), i1 = std::min(i, nr_ - 1);
      corner_viscosity_(i, j) =
          0.25 * (viscosity_(i0, j0) + viscosity_(i1, j0) + viscosity_(i0, j1) + viscosity_(i1, j1));
    }
  }
  const auto conductance = [&](int i, int j, double distance) {
    if (!turbulent) return mu / distance;
    const double friction = std::pow(c_mu, 0.25) * std::sqrt(field_.kinetic_energy(i, j));
    const double y = std::max(rho * friction * distance / mu, laminar_limit);
    return std::max(rho * friction * von_karman / std::log(wall_constant * y), mu / distance);
  };
  // Between the middle of a cell and a side wall the moment R^2 tau of the shear is constant, so that the
  // turn rate falls by the integral of tau R^2/(mu r^3): what (R/r)^3 adds to the logarithmic layer's
  // resistance, which otherwise hangs on the cell's width. A laminar layer is resolved, to second order
  // without it. t: distance over the wall's radius, < 0 at an inner wall.
  const auto turn_conductance = [&](double plane, int i, int j, double distance, double t) {
    if (plane <= mu / distance) return plane;
    const double friction = std::pow(c_mu, 0.25) * std::sqrt(field_.kinetic_energy(i, j));
    const double added =  // integral of ((1 - t)^-3 - 1)/t
        0.5 * (1.0 / ((1.0 - t) * (1.0 - t)) - 1.0) + t / (1.0 - t) - std::log1p(-t);
    return 1.0 / (1.0 / plane + added / (rho * friction * von_karman));
  };
  for (int j = 0; j < nz_; ++j) {
    // Distances square to the wall.
    const double inner = (rc_(0) - r_(0)) * width_(j) / wall_stretch(0, j),
                 outer = (r_(nr_) - rc_(nr_ - 1)) * width_(j) / wall_stretch(nr_, j);
    wall_conductance_[0][j] = conductance(0, j, inner);
    wall_conductance_[1][j] = conductance(nr_ - 1, j, outer);
    if (r_(0) > 0.0)
      turn_conductance_[0][j] =
          turn_conductance(wall_conductance_[0][j], 0, j, inner, -inner / (r_(0) * width_(j)));
    turn_conductance_[1][j] =
        turn_conductance(wall_conductance_[1][j], nr_ - 1, j, outer, outer / (r_(nr_) * width_(j)));
  }
  for (int i = 0; i < nr_; ++i) {
    wall_conductance_[2][i] = conductance(i, 0, zc_(0) - z_(0));
    wall_conductance_[3][i] = conductance(i, nz_ - 1, z_(nz_) - zc_(nz_ - 1));
    for (const int e : {2, 3}) turn_conductance_[e][i] = wall_conductance_[e][i];
  }
}

double FlowSolver::solve_axial(double relaxation) {
  NodeEquations& e = axial_;
  clear(e, nr_, nz_ + 1);
  const ArrayXXd& u = field_.u_z;
  const ArrayXXd& g = field_.angular_momentum;
  for (int j = 1; j < nz_; ++j) {
    const double height = zc_(j) - zc_(j - 1), square = width_z_(j) * width_z_(j);
    for (int i = 0; i < nr_; ++i) {
      const double area = area_(i) * square;
      double b = area * (field_.pressure(i, j - 1) - field_.pressure(i, j)), sink = 0.0;
      if (tapered_) {
        const double turn = 0.5 * (g(i, j - 1) / std::pow(cell_radius(i, j - 1), 2) +
                                   g(i, j) / std::pow(cell_radius(i, j), 2));
        b = case_.density * turn * turn * axial_centrifugal_(i, j) - axial_gradient(field_.pressure, i, j);
      }
      const auto along = [&](int m) { return u(i, m); };
      const auto across = [&](int m) { return u(m, j); };
      const auto z_face = [&](int m) { return z_(m); };
      const auto r_node = [&](int m) { return rc_(m); };
      const double north = 0.5 * (axial_flux_(i, j) + axial_flux_(i, j + 1));
      const double south = 0.5 * (axial_flux_(i, j) + axial_flux_(i, j - 1));
      const double above = area_(i) * width_(j) * width_(j), below = area_(i) * width_(j - 1) * width_(j - 1);
      e.N(i, j) = 2.0 * viscosity_(i, j) * above / dz_(j) + std::max(-north, 0.0);
      e.S(i, j) = 2.0 * viscosity_(i, j - 1) * below / dz_(j - 1) + std::max(south, 0.0);
      if (tapered_) {
        b -= 2.0 * rc_(i) *
             (viscosity_(i, j) * above * slope_(j) * slopes_u_z_.r(i, j) -
              viscosity_(i, j - 1) * below * slope_(j - 1) * slopes_u_z_.r(i, j - 1));
      }
      b -= limited_part(north, zc_(j), j + 1, nz_ + 1, z_face, along);
      b += limited_part(south, zc_(j - 1), j, nz_ + 1, z_face, along);
      // Shear and flow through a lateral face between two nodes; `out` is +1 where it is the outer one.
      const auto inside = [&](int face, double out, double& coefficient) {
        const double flux = 0.5 * (radial_flux_(face, j - 1) + radial_flux_(face, j));
        const double mu = corner_viscosity_(face, j), ring = two_pi * r_(face) * width_z_(j);
        coefficient =
            mu * ring * height / ((rc_(face) - rc_(face - 1)) * width_z_(j)) + std::max(-out * flux, 0.0);
        b -= out * limited_part(flux, r_(face), face, nr_, r_node, across);
        b += out * mu * ring * (field_.u_r(face, j) - field_.u_r(face, j - 1));
        if (tapered_) {
          const double slope = r_(face) * slope_z_(j);
          const double carried =
              r_(face) * (slope_(j) * face_u_z(face, j) - slope_(j - 1) * face_u_z(face, j - 1));
          b += out * mu * ring *
               (carried -
                height * slope * (around(slopes_u_r_.r, face, j) + 2.0 * around(slopes_u_z_.z, face, j)));
        }
      };
      const auto edge = [&](Edge side, int face, double out) {
        for (const int cell : {j - 1, j}) {
          const double half = 0.5 * dz_(cell);
          const auto kind = boundary(side)[cell].kind;
          if (kind == BoundaryKind::wall) {
            sink += wall_conductance_[static_cast<int>(side)][cell] * two_pi * r_(face) * width_(cell) *
                    wall_stretch(face, cell) * half;
          } else if (kind != BoundaryKind::symmetry) {
            sink += std::max(-0.5 * out * radial_flux_(face, cell), 0.0);
          }
        }
      };
      if (i + 1 < nr_)
        inside(i + 1, 1.0, e.E(i, j));
      else
        edge(Edge::outer, nr_, 1.0);
      if (i > 0)
        inside(i, -1.0, e.W(i, j));
      else
        edge(Edge::inner, 0, -1.0);
      const double drag = case_.density * screen_loss_[j] * std::fabs(u(i, j)) * area;
      sink += drag, b += 0.5 * drag * u(i, j);
      for (const int cell : {j - 1, j}) {
        if (fin_plates_(i, cell) > 0.0) {
          sink += case_.density * fin_friction_(i, cell) * fin_plates_(i, cell) /
                  (two_pi * cell_radius(i, cell)) * cell_speed(i, cell) * area_(i) * 0.5 * dz_(cell) *
                  swelling_(cell);
        }
      }
      e.P(i, j) = e.W(i, j) + e.E(i, j) + e.S(i, j) + e.N(i, j) + sink;
      e.b(i, j) = b;
    }
  }
  const double residual = residual_and_relax(e, u, 0, nr_, 1, nz_, speed_scale(), relaxation);
  for (int j = 1; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      axial_mobility_(i, j) =
          area_(i) * width_z_(j) * width_z_(j) / (e.P(i, j) - e.W(i, j) - e.E(i, j) - e.S(i, j) - e.N(i, j));
    }
  }
  sweep(e, field_.u_z, 0, nr_, 1, nz_, 1);
  return residual;
}

double FlowSolver::solve_radial(double relaxation) {
  NodeEquations& e = radial_;
  clear(e, nr_ + 1, nz_);
  const ArrayXXd& u = field_.u_r;
  const ArrayXXd& g = field_.angular_momentum;
  for (int j = 0; j < nz_; ++j) {
    for (int i = 1; i < nr_; ++i) {
      const double outer_part = (1.0 - inner_share_(i - 1)) * area_(i - 1),
                   inner_part = inner_share_(i) * area_(i);
      const double radius = r_(i) * width_(j), slope = r_(i) * slope_(j);
      const double u_z_here = tapered_ ? face_u_z(i, j) : 0.0;
      double b = two_pi * r_(i) * dz_(j) * (field_.pressure(i - 1, j) - field_.pressure(i, j));
      if (tapered_) {
        b = -radial_gradient(field_.pressure, i, j);
        double turn_square = 0.0;
        for (const int cell : {i - 1, i})
          turn_square += 0.5 * std::pow(g(cell, j) / std::pow(cell_radius(cell, j), 2), 2);
        b += case_.density * turn_square * radial_centrifugal_(i, j);
      } else {
        // Centrifugal force of the two halves.
        for (const int cell : {i - 1, i}) {
          const double v = g(cell, j) / rc_(cell);
          b += case_.density * v * v / rc_(cell) * (cell == i ? inner_part : outer_part) * dz_(j);
        }
      }
      double sink = 2.0 * 0.5 * (viscosity_(i - 1, j) + viscosity_(i, j)) / (radius * radius) *
                    (outer_part + inner_part) * dz_(j) * swelling_(j);
      b -= sink * slope * u_z_here;
      // The momentum is that along (1, -slope) of this face, which u_r less slope u_z is only on the face
      // itself.
      const auto along = [&](int m) {
        return tapered_ ? u(m, j) + (r_(m) * slope_(j) - slope) * face_u_z(m, j) : u(m, j);
      };
      const auto across = [&](int m) {
        return tapered_ ? u(i, m) + (r_(i) * slope_(m) - slope) * face_u_z(i, m) : u(i, m);
      };
      const auto r_face = [&](int m) { return r_(m); };
      const auto z_node = [&](int m) { return zc_(m); };
      const auto middle_flux = [&](int cell) {
        return radial_flux_(cell, j) +
               inner_share_(cell) * (radial_flux_(cell + 1, j) - radial_flux_(cell, j));
      };
      const double east = middle_flux(i), west = middle_flux(i - 1);
      // Ring over width: the cone's factors cancel.
      e.E(i, j) = 2.0 * viscosity_(i, j) * two_pi * rc_(i) * dz_(j) / dr_(i) + std::max(-east, 0.0);
      e.W(i, j) =
          2.0 * viscosity_(i - 1, j) * two_pi * rc_(i - 1) * dz_(j) / dr_(i - 1) + std::max(west, 0.0);
      b -= limited_part(east, rc_(i), i + 1, nr_ + 1, r_face, along);
      b += limited_part(west, rc_(i - 1), i, nr_ + 1, r_face, along);
      if (tapered_) {
        b += e.E(i, j) * (along(i + 1) - u(i + 1, j)) + e.W(i, j) * (along(i - 1) - u(i - 1, j));
        for (const int cell : {i - 1, i}) {
          const double own = rc_(cell) * slope_(j), ring = two_pi * cell_radius(cell, j) * dz_(j);
          const double shear = slopes_u_z_.r(cell, j) + slopes_u_r_.z(cell, j);
          b += (cell == i ? 1.0 : -1.0) * viscosity_(cell, j) * ring *
               (2.0 * slope * slopes_u_z_.r(cell, j) - (own + slope) * shear +
                2.0 * slope * own * slopes_u_z_.z(cell, j));
        }
      }
      const auto inside = [&](int face, double out, double& coefficient) {
        const int beyond = out > 0.0 ? j + 1 : j - 1;
        const double flux = outer_part / area_(i - 1) * axial_flux_(i - 1, face) +
                            inner_part / area_(i) * axial_flux_(i, face);
        const double inflow = std::max(-out * flux, 0.0);
        if (screen_deflection_[face] >= 0.0) {
          const double kept = screen_deflection_[face];
          coefficient = kept * inflow;
          sink += inflow - coefficient;
          // Along the mesh u_r alone is deflected.
          if (tapered_)
            b += inflow * (kept * r_(i) * slope_(beyond) * face_u_z(i, beyond) - slope * u_z_here);
          return;
        }
        const double mu = corner_viscosity_(i, face),
                     part = (outer_part + inner_part) * width_z_(face) * width_z_(face);
        coefficient = mu * part / (zc_(face) - zc_(face - 1)) + inflow;
        b -= out * limited_part(flux, z_(face), face, nz_, z_node, across);
        b += out * mu * part * (field_.u_z(i, face) - field_.u_z(i - 1, face)) /
             ((rc_(i) - rc_(i - 1)) * width_z_(face));
        if (tapered_) {
          b += coefficient * (across(beyond) - u(i, beyond));
          b += out * mu * part * slope *
               (slope * around(slopes_u_z_.r, i, face) - around(slopes_u_z_.z, i, face) -
                around(slopes_u_r_.r, i, face));
        }
      };
      const auto edge = [&](Edge side, int face, double out) {
        for (const int cell : {i - 1, i}) {
          const double part = cell == i ? inner_part : outer_part;
          const auto kind = boundary(side)[cell].kind;
          if (kind == BoundaryKind::wall) {
            const double drag =
                wall_conductance_[static_cast<int>(side)][cell] * part * width_z_(face) * width_z_(face);
            sink += drag;
            b -= drag * slope * u_z_here;
          } else if (kind != BoundaryKind::symmetry) {
            sink += std::max(-out * axial_flux_(cell, face) * part / area_(cell), 0.0);
          }
        }
      };
      if (j + 1 < nz_)
        inside(j + 1, 1.0, e.N(i, j));
      else
        edge(Edge::top, nz_, 1.0);
      if (j > 0)
        inside(j, -1.0, e.S(i, j));
      else
        edge(Edge::bottom, 0, -1.0);
      e.P(i, j) = e.W(i, j) + e.E(i, j) + e.S(i, j) + e.N(i, j) + sink;
      e.b(i, j) = b;
    }
  }
  const double residual = residual_and_relax(e, u, 1, nr_, 0, nz_, speed_scale(), relaxation);
  for (int j = 0; j < nz_; ++j) {
    for (int i = 1; i < nr_; ++i) {
      const double slope = r_(i) * slope_(j);
      radial_mobility_(i, j) = two_pi * r_(i) * width_(j) * dz_(j) * (1.0 + slope * slope) /
                               (e.P(i, j) - e.W(i, j) - e.E(i, j) - e.S(i, j) - e.N(i, j));
    }
  }
  sweep(e, field_.u_r, 1, nr_, 0, nz_, 1);
  return residual;
}

double FlowSolver::solve_swirl(double relaxation) {
  NodeEquations& e = scalar_;
  clear(e, nr_, nz_);
  const ArrayXXd& g = field_.angular_momentum;
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      double b = 0.0, P = 0.0;
      const double square = cell_radius(i, j) * cell_radius(i, j);
      const auto in_r = [&](int m) { return g(m, j); };
      const auto in_z = [&](int m) { return g(i, m); };
      const auto r_node = [&](int m) { return rc_(m); };
      const auto z_node = [&](int m) { return zc_(m); };
      // The shear acts on the turn rate g/r^2, so that a solid body feels none.
      const auto radially = [&](int face, int other, double out, double& coefficient) {
        const double flux = radial_flux_(face, j), inflow = std::max(-out * flux, 0.0);
        const double shear = 0.5 * (viscosity_(i, j) + viscosity_(other, j)) * two_pi *
                             std::pow(r_(face) * width_(j), 3) * dz_(j) /
                             std::fabs((rc_(other) - rc_(i)) * width_(j));
        coefficient = shear / (cell_radius(other, j) * cell_radius(other, j)) + inflow;
        P += shear / square + inflow;
        b -= out * limited_part(flux, r_(face), face, nr_, r_node, in_r);
        if (tapered_) {
          b -= out * 0.25 * (viscosity_(i, j) + viscosity_(other, j)) * two_pi *
               std::pow(r_(face) * width_(j), 3) * dz_(j) * r_(face) * slope_(j) *
               (slopes_turn_rate_.z(i, j) + slopes_turn_rate_.z(other, j));
        }
      };
      const auto axially = [&](int face, int other, double out, double& coefficient) {
        const double flux = axial_flux_(i, face), inflow = std::max(-out * flux, 0.0);
        if (screen_deflection_[face] >= 0.0) {
          coefficient = screen_deflection_[face] * inflow;
          P += inflow;
          return;
        }
        const double viscous = 0.5 * (viscosity_(i, j) + viscosity_(i, other)) * area_(i) * width_z_(face) *
                               width_z_(face),
                     shear = viscous / std::fabs(zc_(other) - zc_(j));
        const auto lever = [&](int cell) { return std::pow(width_z_(face) / width_(cell), 2); };
        coefficient = shear * lever(other) + inflow;
        P += shear * lever(j) + inflow;
        if (tapered_) {
          b -= out * viscous * rc_(i) * slope_z_(face) * 0.5 * std::pow(rc_(i) * width_z_(face), 2) *
               (slopes_turn_rate_.r(i, j) + slopes_turn_rate_.r(i, other));
        }
        b -= out * limited_part(flux, z_(face), face, nz_, z_node, in_z);
      };
      // inflow [kg/s] through an edge face, its radius and area.
      const auto edge = [&](Edge side, int n, double inflow, double radius, double face_area) {
        const Boundary& at = boundary(side)[n];
        if (at.kind == BoundaryKind::wall) {
          const double shear = turn_conductance_[static_cast<int>(side)][n] * radius * radius * face_area;
          P += shear / square;
          b += shear * at.angular_velocity;
        } else if (at.kind == BoundaryKind::inlet) {
          P += inflow;
          b += inflow * radius * at.swirl_speed;
        } else {
          P += std::max(inflow, 0.0);
        }
      };
      if (i + 1 < nr_)
        radially(i + 1, i + 1, 1.0, e.E(i, j));
      else
        edge(Edge::outer, j, -radial_flux_(nr_, j), r_(nr_) * width_(j), side_area(nr_, j));
      if (i > 0)
        radially(i, i - 1, -1.0, e.W(i, j));
      else
        edge(Edge::inner, j, radial_flux_(0, j), r_(0) * width_(j), side_area(0, j));
      if (j + 1 < nz_)
        axially(j + 1, j + 1, 1.0, e.N(i, j));
      else
        edge(Edge::top, i, -axial_flux_(i, nz_), rc_(i) * width_z_(nz_), level_area(i, nz_));
      if (j > 0)
        axially(j, j - 1, -1.0, e.S(i, j));
      else
        edge(Edge::bottom, i, axial_flux_(i, 0), rc_(i) * width_z_(0), level_area(i, 0));
      P += fin_sink(i, j);
      e.P(i, j) = P, e.b(i, j) = b;
    }
  }
  const double residual = residual_and_relax(e, g, 0, nr_, 0, nz_, 0.3 * r_(nr_) * speed_scale(), relaxation);
  sweep(e, field_.angular_momentum, 0, nr_, 0, nz_, 1);
  return residual;
}

double FlowSolver::fin_sink(int i, int j) const {
  if (fin_plates_(i, j) == 0.0) return 0.0;
  return case_.density * cell_speed(i, j) * cell_volume(i, j) * fin_plates_(i, j) /
         (2.0 * cell_radius(i, j)) * (1.0 + fin_friction_(i, j) / constant::pi);
}

double FlowSolver::solve_turbulence(double relaxation) {
  const double rho = case_.density, mu = case_.dynamic_viscosity;
  const double quarter = std::pow(c_mu, 0.25);
  ArrayXXd production(nr_, nz_);
  ArrayXXd wall_dissipation = ArrayXXd::Constant(nr_, nz_, -1.0);
  const auto& f = field_;
  const auto turn_rate = [&](int i, int j) {
    return f.angular_momentum(i, j) / (cell_radius(i, j) * cell_radius(i, j));
  };
  // Speeds of the cell's middle, across the edges the cell's own.
  const auto middle_u_z = [&](int i, int j) { return 0.5 * (f.u_z(i, j) + f.u_z(i, j + 1)); };
  const auto middle_u_r = [&](int i, int j) {
    return 0.5 * (f.u_r(i, j) + f.u_r(i + 1, j)) + slope_(j) * rc_(i) * middle_u_z(i, j);
  };
  for (int j = 0; j < nz_; ++j) {
    const int below = std::max(j - 1, 0), above = std::min(j + 1, nz_ - 1);
    for (int i = 0; i < nr_; ++i) {
      const int in = std::max(i - 1, 0), out = std::min(i + 1, nr_ - 1);
      // One difference over both neighbours, 0 where the row has one cell only.
      const auto slope_r = [&](auto v) { return (v(out, j) - v(in, j)) / (rc_(out) - rc_(in)); };
      const auto slope_z = [&](auto v) { return (v(i, above) - v(i, below)) / (zc_(above) - zc_(below)); };
      double rr = (f.u_r(i + 1, j) - f.u_r(i, j)) / dr_(i), zz = (f.u_z(i, j + 1) - f.u_z(i, j)) / dz_(j);
      double rz = slope_r(middle_u_z) + slope_z(middle_u_r);
      double rt = rc_(i) * slope_r(turn_rate), zt = rc_(i) * slope_z(turn_rate);
      if (tapered_) {
        const double radius = cell_radius(i, j);
        rr = slopes_u_r_.r(i, j), zz = slopes_u_z_.z(i, j), rz = slopes_u_z_.r(i, j) + slopes_u_r_.z(i, j);
        rt = radius * slopes_turn_rate_.r(i, j), zt = radius * slopes_turn_rate_.z(i, j);
      }
      const double hoop = middle_u_r(i, j) / cell_radius(i, j);
      const double eddy = viscosity_(i, j) - mu;
      production(i, j) = eddy * strain_rate_squared({rr, hoop, zz, rz, rt, zt});
    }
  }
  // Next to walls: the logarithmic law's production and dissipation, averaged where two walls meet.
  ArrayXXd sum_production = ArrayXXd::Zero(nr_, nz_), walls = sum_production,
           sum_dissipation = sum_production;
  const auto next_to_wall = [&](Edge side, int n, int i, int j, double distance, double along) {
    const Boundary& at = boundary(side)[n];
    if (at.kind != BoundaryKind::wall) return;
    const double k = f.kinetic_energy(i, j), friction = quarter * std::sqrt(k);
    const double y = std::max(distance, laminar_limit * mu / (rho * friction));
    const double radius = cell_radius(i, j);
    const double slip = f.angular_momentum(i, j) / radius - at.angular_velocity * radius;
    const double shear = wall_conductance_[static_cast<int>(side)][n] * std::hypot(along, slip);
    sum_production(i, j) += shear * shear / (von_karman * rho * friction * y);
    sum_dissipation(i, j) += std::pow(friction, 3) / (von_karman * y);
    walls(i, j) += 1.0;
  };
  for (int j = 0; j < nz_; ++j) {
    const double inner = wall_stretch(0, j), outer = wall_stretch(nr_, j);
    next_to_wall(Edge::inner, j, 0, j, (rc_(0) - r_(0)) * width_(j) / inner, inner * middle_u_z(0, j));
    next_to_wall(Edge::outer, j, nr_ - 1, j, (r_(nr_) - rc_(nr_ - 1)) * width_(j) / outer,
                 outer * middle_u_z(nr_ - 1, j));
  }
  for (int i = 0; i < nr_; ++i) {
    next_to_wall(Edge::bottom, i, i, 0, zc_(0) - z_(0), middle_u_r(i, 0));
    next_to_wall(Edge::top, i, i, nz_ - 1, z_(nz_) - zc_(nz_ - 1), middle_u_r(i, nz_ - 1));
  }
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      if (walls(i, j) == 0.0) continue;
      production(i, j) = sum_production(i, j) / walls(i, j);
      wall_dissipation(i, j) = sum_dissipation(i, j) / walls(i, j);
    }
  }

  const ArrayXXd k_old = f.kinetic_energy, epsilon_old = f.dissipation;
  const auto transported = [&](ArrayXXd& x, bool is_dissipation) {
    NodeEquations& e = scalar_;
    clear(e, nr_, nz_);
    const double prandtl = is_dissipation ? prandtl_epsilon : prandtl_k;
    const auto gamma = [&](int i, int j) { return mu + (viscosity_(i, j) - mu) / prandtl; };
    for (int j = 0; j < nz_; ++j) {
      for (int i = 0; i < nr_; ++i) {
        if (is_dissipation && wall_dissipation(i, j) >= 0.0) {
          e.P(i, j) = 1.0, e.b(i, j) = wall_dissipation(i, j);
          continue;
        }
        double inflow = 0.0, b = 0.0;
        const auto neighbour = [&](double flux_in, double face_area, double distance, int oi, int oj) {
          return 0.5 * (gamma(i, j) + gamma(oi, oj)) * face_area / distance + std::max(flux_in, 0.0);
        };
        const auto edge = [&](Edge side, int n, double flux_in) {
          const Boundary& at = boundary(side)[n];
          if (at.kind != BoundaryKind::inlet && at.kind != BoundaryKind::vent) return;
          inflow += std::max(flux_in, 0.0);
          b += std::max(flux_in, 0.0) * (is_dissipation ? at.dissipation : at.kinetic_energy);
        };
        // Across a slanted face as if k and epsilon were constant along it; what they change along it goes
        // through its slope only, and is left out.
        const auto across = [&](int face, double flux_in, double distance, int oi) {
          const double slant = wall_stretch(face, j);
          return neighbour(flux_in, side_area(face, j) * slant, distance * width_(j), oi, j);
        };
        if (i + 1 < nr_) {
          e.E(i, j) = across(i + 1, -radial_flux_(i + 1, j), rc_(i + 1) - rc_(i), i + 1);
        } else {
          edge(Edge::outer, j, -radial_flux_(nr_, j));
        }
        if (i > 0)
          e.W(i, j) = across(i, radial_flux_(i, j), rc_(i) - rc_(i - 1), i - 1);
        else
          edge(Edge::inner, j, radial_flux_(0, j));
        if (j + 1 < nz_)
          e.N(i, j) = neighbour(-axial_flux_(i, j + 1), level_area(i, j + 1), zc_(j + 1) - zc_(j), i, j + 1);
        else
          edge(Edge::top, i, -axial_flux_(i, nz_));
        if (j > 0)
          e.S(i, j) = neighbour(axial_flux_(i, j), level_area(i, j), zc_(j) - zc_(j - 1), i, j - 1);
        else
          edge(Edge::bottom, i, axial_flux_(i, 0));
        const double volume = cell_volume(i, j);
        const double k = std::max(k_old(i, j), least_kinetic_energy), rate = epsilon_old(i, j) / k;
        const double sink = rho * rate * volume * (is_dissipation ? c_2 : 1.0);
        b += production(i, j) * volume * (is_dissipation ? c_1 * rate : 1.0);
        e.P(i, j) = e.W(i, j) + e.E(i, j) + e.S(i, j) + e.N(i, j) + inflow + sink;
        e.b(i, j) = b;
      }
    }
    const double residual = residual_and_relax(e, x, 0, nr_, 0, nz_, 0.0, relaxation);
    sweep(e, x, 0, nr_, 0, nz_, 1);
    return residual;
  };
  const double residual_k = transported(field_.kinetic_energy, false);
  const double residual_epsilon = transported(field_.dissipation, true);
  field_.kinetic_energy = field_.kinetic_energy.max(least_kinetic_energy);
  // An eddy viscosity above 1e5 times the molecular one is a start's, not a flow's.
  field_.dissipation =
      field_.dissipation.max(c_mu * rho * field_.kinetic_energy.square() / (1e5 * mu)).max(1e-14);
  return std::max(residual_k, residual_epsilon);
}

void FlowSolver::correct_pressure() {
  const double rho = case_.density;
  const double least_speed = 0.02 * speed_scale();
  bool vented = false;
  // The outside's pressure is 0: v moves to where the cell's total pressure equals the vent's loss.
  const auto vent = [&](double& u, double& mobility, const Boundary& at, int i, int j, double out) {
    mobility = 0.0;
    if (at.kind != BoundaryKind::vent) return;
    vented = true;
    const double v = out * u, dynamic = v > 0.0 ? 0.5 * rho * meridional_square(i, j) : 0.0;
    mobility = vent_relaxation / (rho * at.loss * std::max(std::fabs(v), least_speed));
    u += out * mobility * (field_.pressure(i, j) + dynamic - 0.5 * rho * at.loss * v * std::fabs(v));
  };
  for (int j = 0; j < nz_; ++j) {
    vent(field_.u_r(0, j), radial_mobility_(0, j), case_.inner[j], 0, j, -1.0);
    vent(field_.u_r(nr_, j), radial_mobility_(nr_, j), case_.outer[j], nr_ - 1, j, 1.0);
  }
  for (int i = 0; i < nr_; ++i) {
    vent(field_.u_z(i, 0), axial_mobility_(i, 0), case_.bottom[i], i, 0, -1.0);
    vent(field_.u_z(i, nz_), axial_mobility_(i, nz_), case_.top[i], i, nz_ - 1, 1.0);
  }
  Eigen::VectorXd right(nr_ * nz_);
  double* value = pressure_matrix_.valuePtr();
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      const double ring = two_pi * dz_(j) * width_(j);
      const double w = ring * r_(i) * radial_mobility_(i, j),
                   e = ring * r_(i + 1) * radial_mobility_(i + 1, j);
      const double bottom = level_area(i, j), top = level_area(i, j + 1);
      const double s = bottom * axial_mobility_(i, j), n = top * axial_mobility_(i, j + 1);
      double diagonal = w + e + s + n;
      if (!vented && i == 0 && j == 0) diagonal *= 2.0;  // the level of a closed vessel's pressure
      if (j > 0) *value++ = -s;
      if (i > 0) *value++ = -w;
      *value++ = diagonal;
      if (i + 1 < nr_) *value++ = -e;
      if (j + 1 < nz_) *value++ = -n;
      right(j * nr_ + i) = ring * (r_(i) * field_.u_r(i, j) - r_(i + 1) * field_.u_r(i + 1, j)) +
                           bottom * (field_.u_z(i, j) - field_.u_z(i, j + 1)) +
                           (bottom - top) * field_.u_z(i, j + 1);
    }
  }
  if (since_factor_ < 0 || since_factor_ >= factor_life) {
    factor_->factorize(pressure_matrix_);
    if (factor_->info() != Eigen::Success)
      throw LogicError("the pressure equation of the air could not be factored");
    since_factor_ = 0;
  }
  ++since_factor_;
  Eigen::ConjugateGradient<Eigen::SparseMatrix<double>, Eigen::Lower | Eigen::Upper, LaggedFactor> solver;
  solver.preconditioner().factor = factor_.get();
  solver.compute(pressure_matrix_);
  solver.setTolerance(1e-10);
  solver.setMaxIterations(60);
  const Eigen::VectorXd solution = solver.solve(right);
  if (solver.iterations() > 12) since_factor_ = factor_life;
  const Eigen::Map<const ArrayXXd> correction(solution.data(), nr_, nz_);
  field_.pressure += correction;
  if (!vented) field_.pressure -= field_.pressure(0, 0);
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i <= nr_; ++i) {
      const double low = i > 0 ? correction(i - 1, j) : 0.0, high = i < nr_ ? correction(i, j) : 0.0;
      field_.u_r(i, j) += radial_mobility_(i, j) * (low - high);
    }
  }
  for (int j = 0; j <= nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      const double low = j > 0 ? correction(i, j - 1) : 0.0, high = j < nz_ ? correction(i, j) : 0.0;
      field_.u_z(i, j) += axial_mobility_(i, j) * (low - high);
    }
  }
  update_fluxes();
}

double FlowSolver::iterate(double relaxation) {
  apply_inlets();
  update_viscosity();
  update_slopes();
  double residual = std::max(solve_radial(relaxation), solve_axial(relaxation));
  correct_pressure();
  residual = std::max(residual, solve_swirl(std::min(1.0, relaxation + 0.1)));
  if (case_.turbulence == Turbulence::k_epsilon) residual = std::max(residual, solve_turbulence(relaxation));
  // std::max drops what is not a number.
  const bool finite = field_.u_z.allFinite() && field_.angular_momentum.allFinite() &&
                      field_.kinetic_energy.allFinite() && field_.dissipation.allFinite();
  return finite ? residual : std::numeric_limits<double>::infinity();
}

double FlowSolver::inlet_flow() const {
  double flow = 0.0;
  for (int j = 0; j < nz_; ++j) {
    if (case_.inner[j].kind == BoundaryKind::inlet) flow += radial_flux_(0, j);
    if (case_.outer[j].kind == BoundaryKind::inlet) flow -= radial_flux_(nr_, j);
  }
  for (int i = 0; i < nr_; ++i) {
    if (case_.bottom[i].kind == BoundaryKind::inlet) flow += axial_flux_(i, 0);
    if (case_.top[i].kind == BoundaryKind::inlet) flow -= axial_flux_(i, nz_);
  }
  return flow / case_.density;
}

double FlowSolver::inlet_pressure() const {
  double flow = 0.0, sum = 0.0;
  for (int i = 0; i < nr_; ++i) {
    if (case_.bottom[i].kind != BoundaryKind::inlet) continue;
    flow += axial_flux_(i, 0), sum += axial_flux_(i, 0) * field_.pressure(i, 0);
  }
  return flow > 0.0 ? sum / flow : 0.0;
}

double FlowSolver::vent_flow() const {
  double flow = 0.0;
  for (int j = 0; j < nz_; ++j) {
    if (case_.inner[j].kind == BoundaryKind::vent) flow -= radial_flux_(0, j);
    if (case_.outer[j].kind == BoundaryKind::vent) flow += radial_flux_(nr_, j);
  }
  for (int i = 0; i < nr_; ++i) {
    if (case_.bottom[i].kind == BoundaryKind::vent) flow -= axial_flux_(i, 0);
    if (case_.top[i].kind == BoundaryKind::vent) flow += axial_flux_(i, nz_);
  }
  return flow / case_.density;
}

double FlowSolver::mass_defect() const {
  double defect = 0.0;
  for (int j = 0; j < nz_; ++j) {
    for (int i = 0; i < nr_; ++i) {
      defect = std::max(defect, std::fabs(radial_flux_(i + 1, j) - radial_flux_(i, j) +
                                          axial_flux_(i, j + 1) - axial_flux_(i, j)));
    }
  }
  const double most = std::max(radial_flux_.abs().maxCoeff(), axial_flux_.abs().maxCoeff());
  return most > 0.0 ? defect / most : 0.0;
}

double FlowSolver::wall_torque_outer() const {
  double torque = 0.0;
  for (int j = 0; j < nz_; ++j) {
    if (!is_wall(Edge::outer, j)) continue;
    torque += turn_conductance_[1][j] * std::pow(r_(nr_) * width_(j), 3) * two_pi * dz_(j) *
              wall_stretch(nr_, j) *
              (field_.angular_momentum(nr_ - 1, j) / std::pow(cell_radius(nr_ - 1, j), 2) -
               case_.outer[j].angular_velocity);
  }
  return torque;
}

AngularMomentumBalance FlowSolver::angular_momentum_balance() const {
  AngularMomentumBalance sum{0.0, 0.0, 0.0, 0.0, 0.0};
  const ArrayXXd& g = field_.angular_momentum;
  const auto edge = [&](Edge side, int n, int i, int j, double outflow, double radius, double face_area) {
    const Boundary& at = boundary(side)[n];
    if (at.kind == BoundaryKind::wall) {
      sum.walls += turn_conductance_[static_cast<int>(side)][n] * radius * radius * face_area *
                   (g(i, j) / (cell_radius(i, j) * cell_radius(i, j)) - at.angular_velocity);
    } else if (at.kind == BoundaryKind::inlet) {
      sum.inflow -= outflow * radius * at.swirl_speed;
    } else {
      sum.outflow += std::max(outflow, 0.0) * g(i, j);
    }
  };
  for (int j = 0; j < nz_; ++j) {
    edge(Edge::inner, j, 0, j, -radial_flux_(0, j), r_(0) * width_(j), side_area(0, j));
    edge(Edge::outer, j, nr_ - 1, j, radial_flux_(nr_, j), r_(nr_) * width_(j), side_area(nr_, j));
    for (int i = 0; i < nr_; ++i) sum.fins += fin_sink(i, j) * g(i, j);
  }
  for (int i = 0; i < nr_; ++i) {
    edge(Edge::bottom, i, i, 0, -axial_flux_(i, 0), rc_(i) * width_z_(0), level_area(i, 0));
    edge(Edge::top, i, i, nz_ - 1, axial_flux_(i, nz_), rc_(i) * width_z_(nz_), level_area(i, nz_));
    for (int j = 1; j < nz_; ++j) {
      if (screen_deflection_[j] < 0.0) continue;
      const double flux = axial_flux_(i, j);
      sum.screens += (1.0 - screen_deflection_[j]) * std::fabs(flux) * (flux > 0.0 ? g(i, j - 1) : g(i, j));
    }
  }
  return sum;
}

PowerBalance FlowSolver::power_balance() const {
  PowerBalance sum{0.0, 0.0, 0.0, 0.0, 0.0};
  const double half_density = 0.5 * case_.density;
  const auto turn = [&](int i, int j) { return field_.angular_momentum(i, j) / cell_radius(i, j); };
  const auto edge = [&](Edge side, int n, int i, int j, double outflow, double speed) {
    const Boundary& at = boundary(side)[n];
    const double flow = outflow / case_.density;
    if (at.kind == BoundaryKind::inlet) {
      const double square = speed * speed + at.swirl_speed * at.swirl_speed;
      sum.inflow -= flow * (field_.pressure(i, j) + half_density * square);
    } else if (at.kind == BoundaryKind::vent) {
      sum.vents += half_density * at.loss * speed * speed * std::fabs(flow);
      sum.swirl_out += half_density * turn(i, j) * turn(i, j) * std::max(flow, 0.0);
    }
  };
  for (int j = 0; j < nz_; ++j) {
    edge(Edge::inner, j, 0, j, -radial_flux_(0, j), field_.u_r(0, j));
    edge(Edge::outer, j, nr_ - 1, j, radial_flux_(nr_, j), field_.u_r(nr_, j));
    for (int i = 0; i < nr_; ++i) {
      if (fin_plates_(i, j) == 0.0) continue;
      const double u = 0.5 * (field_.u_z(i, j) + field_.u_z(i, j + 1));
      sum.fins += fin_sink(i, j) * turn(i, j) * turn(i, j) +
                  case_.density * fin_friction_(i, j) * fin_plates_(i, j) / (two_pi * cell_radius(i, j)) *
                      cell_speed(i, j) * area_(i) * dz_(j) * swelling_(j) * u * u;
    }
  }
  for (int i = 0; i < nr_; ++i) {
    edge(Edge::bottom, i, i, 0, -axial_flux_(i, 0), field_.u_z(i, 0));
    edge(Edge::top, i, i, nz_ - 1, axial_flux_(i, nz_), field_.u_z(i, nz_));
    for (int j = 1; j < nz_; ++j) {
      if (screen_deflection_[j] < 0.0) continue;
      const double u = field_.u_z(i, j), v = turn(i, u > 0.0 ? j - 1 : j);
      const double stopped = 1.0 - screen_deflection_[j] * screen_deflection_[j];
      sum.screens +=
          half_density * (screen_loss_[j] * u * u + stopped * v * v) * std::fabs(u) * level_area(i, j);
    }
  }
  return sum;
}

ArrayXXd FlowSolver::stream_function() const {
  ArrayXXd psi = ArrayXXd::Zero(nr_ + 1, nz_ + 1);
  const double scale = 1.0 / (two_pi * case_.density);
  // Along the axis first, then outwards, so that every corner follows from fluxes that balance in each cell.
  for (int j = 0; j < nz_; ++j) psi(0, j + 1) = psi(0, j) - scale * radial_flux_(0, j);
  for (int j = 0; j <= nz_; ++j) {
    for (int i = 0; i < nr_; ++i) psi(i + 1, j) = psi(i, j) + scale * axial_flux_(i, j);
  }
  return psi;
}

}  // namespace driftglow::swirl_flow
