#include "models/coil/measured_field.hpp"

#include <Eigen/QR>
#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <memory>
#include <sstream>

#include "models/coil/turn_field.hpp"
#include "models/coil/winding.hpp"
#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::coil {
namespace {

using Eigen::Index;
using Eigen::Matrix3Xd;
using Eigen::MatrixXd;
using Eigen::Vector3d;
using Eigen::VectorXd;

double widest(const std::vector<double>& axis) {
  double step = 0.0;
  for (std::size_t i = 1; i < axis.size(); ++i) step = std::max(step, axis[i] - axis[i - 1]);
  return step;
}

// Where the sources stand, and how far apart at most along it.
struct Shell {
  double radius, low, high;  // m
  double across, along;      // m, spacing
};

// Even, ends included, no further apart than `step`.
std::vector<double> spread(double low, double high, double step) {
  const int intervals = std::max(1, static_cast<int>(std::ceil((high - low) / step - 1e-9)));
  std::vector<double> places;
  for (int i = 0; i <= intervals; ++i) places.push_back(low + (high - low) * i / intervals);
  return places;
}

// A family of sources: field of each per unit at a place. The first ones are far away and make a uniform
// field.
class Sources {
 public:
  virtual ~Sources() = default;
  virtual Index count() const = 0;
  // T per unit, one column each.
  virtual Matrix3Xd fields(const Vector3d& p) const = 0;
};

// Strong beside the others', so that the ridge leaves it alone.
constexpr double far_away = 10.0;

class Loops : public Sources {
 public:
  explicit Loops(const Shell& shell) {
    for (const double z : spread(shell.low, shell.high, shell.along))
      turns_.push_back({shell.radius, z, 1.0});
    for (const double r : spread(0.0, shell.radius, shell.across)) {
      if (r == 0.0 || r == shell.radius) continue;
      turns_.push_back({r, shell.low, 1.0});
      turns_.push_back({r, shell.high, 1.0});
    }
    // Like a charge's, about 1 T/T at the shell's own distance.
    for (auto& turn : turns_) turn.weight = shell.radius / constant::mu_0;
  }
  Index count() const override { return 1 + static_cast<Index>(turns_.size()); }
  Matrix3Xd fields(const Vector3d& p) const override {
    Matrix3Xd all(3, count());
    all.col(0) = far_away * Vector3d::UnitZ();
    for (Index k = 1; k < count(); ++k) {
      const auto& turn = turns_[static_cast<std::size_t>(k - 1)];
      const auto B = turn_field_over_radius(turn.radius, std::hypot(p.x(), p.y()), p.z() - turn.height);
      all.col(k) = turn.weight * Vector3d(p.x() * B.radial_over_rho, p.y() * B.radial_over_rho, B.axial);
    }
    return all;
  }

 private:
  std::vector<Turn> turns_;
};

class Charges : public Sources {
 public:
  explicit Charges(const Shell& shell) : scale_(shell.radius * shell.radius) {
    const auto ring = [&](double r, double z) {
      const int count = std::max(1, static_cast<int>(std::lround(2.0 * constant::pi * r / shell.across)));
      for (int i = 0; i < count; ++i) {
        const double angle = 2.0 * constant::pi * i / count;
        places_.emplace_back(r * std::cos(angle), r * std::sin(angle), z);
      }
    };
    for (const double z : spread(shell.low, shell.high, shell.along)) ring(shell.radius, z);
    for (const double r : spread(0.0, shell.radius, shell.across)) {
      if (r == shell.radius) continue;
      ring(r, shell.low);
      ring(r, shell.high);
    }
  }
  Index count() const override { return 3 + static_cast<Index>(places_.size()); }
  Matrix3Xd fields(const Vector3d& p) const override {
    Matrix3Xd all(3, count());
    all.leftCols<3>() = far_away * Eigen::Matrix3d::Identity();
    for (Index k = 3; k < count(); ++k) {
      const Vector3d from = p - places_[static_cast<std::size_t>(k - 3)];
      const double distance = from.norm();
      all.col(k) = scale_ / (distance * distance * distance) * from;
    }
    return all;
  }

 private:
  double scale_;
  std::vector<Vector3d> places_;
};

// The nodes that count, and their readings stacked component by component.
struct Used {
  std::vector<Vector3d> places;
  MatrixXd wanted;  // (components x places) x parts
};

// Least squares with a ridge, by the singular values of the triangle of the design.
class Ridge {
 public:
  explicit Ridge(const MatrixXd& design)
      : qr_(design),
        svd_(MatrixXd(qr_.matrixQR()
                          .topRows(std::min(design.rows(), design.cols()))
                          .triangularView<Eigen::Upper>()),
             Eigen::ComputeThinU | Eigen::ComputeThinV),
        rows_(design.rows()) {}

  // Of the design's rows: Q U, so that fits of other readings need no new factors.
  MatrixXd projected(const MatrixXd& wanted) const {
    const MatrixXd turned = qr_.householderQ().adjoint() * wanted;
    return svd_.matrixU().adjoint() * turned.topRows(svd_.matrixU().rows());
  }
  // Sum of squares that a ridge leaves of readings.
  double left(const MatrixXd& wanted, const MatrixXd& projected, double ridge) const {
    double sum = wanted.squaredNorm() - projected.squaredNorm();
    for (Index i = 0; i < projected.rows(); ++i)
      sum += std::pow(1.0 - kept(i, ridge), 2) * projected.row(i).squaredNorm();
    return std::max(sum, 0.0);
  }
  double best_ridge(const MatrixXd& wanted, const MatrixXd& projected) const {
    const double top = svd_.singularValues()[0] * svd_.singularValues()[0];
    double best = top, least = std::numeric_limits<double>::infinity();
    constexpr int tries = 140;
    for (int i = 0; i <= tries; ++i) {
      const double ridge = top * std::pow(10.0, -14.0 * i / tries);
      double freedom = static_cast<double>(rows_);
      for (Index k = 0; k < svd_.singularValues().size(); ++k) freedom -= kept(k, ridge);
      // As for the air's grid: a tenth of the values' degrees of freedom is left.
      if (freedom < 0.1 * static_cast<double>(rows_)) break;
      const double score = left(wanted, projected, ridge) / (freedom * freedom);
      if (score < least) least = score, best = ridge;
    }
    return best;
  }
  MatrixXd strengths(MatrixXd projected, double ridge) const {
    const auto& s = svd_.singularValues();
    for (Index i = 0; i < projected.rows(); ++i) projected.row(i) *= s[i] / (s[i] * s[i] + ridge);
    return svd_.matrixV() * projected;
  }

 private:
  double kept(Index i, double ridge) const {
    const double square = svd_.singularValues()[i] * svd_.singularValues()[i];
    return square / (square + ridge);
  }
  Eigen::HouseholderQR<MatrixXd> qr_;
  Eigen::BDCSVD<MatrixXd> svd_;
  Index rows_;
};

class Fitting {
 public:
  Fitting(const FieldGrid& grid, Reach vessel, Reach reach)
      : grid_(grid), vessel_(vessel), reach_(reach), axial_(grid.kind == FieldGrid::Kind::axial) {}

  MeasuredField run() {
    check();
    gather();
    const auto sources = sources_outside();
    const Index components = axial_ ? 2 : 3, nodes = static_cast<Index>(used_.places.size());
    MatrixXd design(components * nodes, sources->count());
    for (Index n = 0; n < nodes; ++n) {
      const Matrix3Xd fields = sources->fields(used_.places[static_cast<std::size_t>(n)]);
      for (Index c = 0; c < components; ++c) design.row(c * nodes + n) = fields.row(row_of(c));
    }
    const Ridge fit(design);
    const MatrixXd projected = fit.projected(used_.wanted);
    const double ridge = fit.best_ridge(used_.wanted, projected);
    const MatrixXd strengths = fit.strengths(projected, ridge);
    const MatrixXd off = design * strengths - used_.wanted;

    MeasuredField result{};
    result.parts = static_cast<int>(grid_.parts.size());
    result.readings = used_.places.size();
    result.rms = std::sqrt(used_.wanted.squaredNorm() / static_cast<double>(nodes));
    result.misfit = off.norm() / used_.wanted.norm();
    for (Index n = 0; n < nodes; ++n) {
      double square = 0.0;
      for (Index c = 0; c < components; ++c) square += off.row(c * nodes + n).squaredNorm();
      if (std::sqrt(square) / result.rms <= result.largest_misfit) continue;
      result.largest_misfit = std::sqrt(square) / result.rms;
      result.worst = used_.places[static_cast<std::size_t>(n)];
    }
    result.divergence_before = divergence() / result.rms;
    result.remedy = remedy(fit, result.misfit);
    result.field = [sources, strengths](const Vector3d& p) -> Matrix3Xd {
      return sources->fields(p) * strengths;
    };
    return result;
  }

 private:
  Index row_of(Index component) const { return axial_ && component == 1 ? 2 : component; }

  void check() const {
    const std::size_t axes = axial_ ? 2 : 3;
    std::size_t nodes = 1;
    for (const auto& axis : grid_.axes) nodes *= axis.size();
    if (grid_.axes.size() != axes || grid_.parts.empty() || grid_.parts.size() > 2)
      throw LogicError("a measured field has two axes or three and one part or two");
    for (const auto& part : grid_.parts)
      if (part.rows() != static_cast<Index>(axes) || part.cols() != static_cast<Index>(nodes))
        throw LogicError("the readings of a measured field do not fit its axes");
    const char* const names[2][3] = {{"r", "z", ""}, {"x", "y", "z"}};
    for (std::size_t a = 0; a < axes; ++a) {
      const auto& axis = grid_.axes[a];
      const char* name = names[axial_ ? 0 : 1][a];
      if (axis.size() < 3)
        throw InputError("the grid has " + std::to_string(axis.size()) + " different " + name +
                         "; expected at least 3");
      const bool is_z = a + 1 == axes;
      const double low = is_z ? reach_.low : axial_ ? 0.0 : -reach_.radius;
      const double high = is_z ? reach_.high : reach_.radius;
      const double step = widest(axis);
      if (axis.front() <= low + step && axis.back() >= high - step) continue;
      std::ostringstream text;
      text.precision(4);
      text << "the nodes reach from " << name << " = " << 1e3 * axis.front() << " mm to " << 1e3 * axis.back()
           << " mm, the tags' centres from " << 1e3 * low << " mm to " << 1e3 * high
           << " mm; expected nodes up to there or within one spacing (" << 1e3 * step << " mm) of it";
      throw InputError(text.str());
    }
  }

  double step_across() const {
    return axial_ ? widest(grid_.axes[0]) : std::max(widest(grid_.axes[0]), widest(grid_.axes[1]));
  }
  double step_along() const { return widest(grid_.axes.back()); }

  // Calls use(node, place) for each node.
  template <class Use>
  void each_node(const Use& use) const {
    const auto& z = grid_.axes.back();
    Index node = 0;
    for (const double first : grid_.axes[0]) {
      if (axial_) {
        for (const double height : z) use(node++, Vector3d(first, 0.0, height));
        continue;
      }
      for (const double second : grid_.axes[1])
        for (const double height : z) use(node++, Vector3d(first, second, height));
    }
  }

  // Further out, wires may run between the nodes.
  void gather() {
    const double beyond = step_across(), above = step_along();
    std::vector<Index> taken;
    each_node([&](Index node, const Vector3d& p) {
      if (std::hypot(p.x(), p.y()) > vessel_.radius + beyond || p.z() < vessel_.low - above ||
          p.z() > vessel_.high + above)
        return;
      taken.push_back(node);
      used_.places.push_back(p);
    });
    const Index components = axial_ ? 2 : 3, nodes = static_cast<Index>(taken.size());
    used_.wanted.resize(components * nodes, static_cast<Index>(grid_.parts.size()));
    for (Index part = 0; part < used_.wanted.cols(); ++part)
      for (Index n = 0; n < nodes; ++n)
        for (Index c = 0; c < components; ++c)
          used_.wanted(c * nodes + n, part) =
              grid_.parts[static_cast<std::size_t>(part)](c, taken[static_cast<std::size_t>(n)]);
    if (used_.wanted.norm() == 0.0)
      throw InputError("all readings are 0; expected the field's peak values, with their signs");
  }

  std::shared_ptr<const Sources> sources_outside() const {
    Shell shell{vessel_.radius, vessel_.low, vessel_.high, step_across(), step_along()};
    for (const auto& p : used_.places) {
      shell.radius = std::max(shell.radius, std::hypot(p.x(), p.y()));
      shell.low = std::min(shell.low, p.z());
      shell.high = std::max(shell.high, p.z());
    }
    constexpr double off = 1.5;  // spacings: nearer, the sources would be seen between the nodes
    shell.radius += off * shell.across;
    shell.low -= off * shell.along;
    shell.high += off * shell.along;
    if (axial_) return std::make_shared<Loops>(shell);
    // No more than what the factors of a few seconds allow, nor than the readings tell apart.
    const Index most = std::min<Index>(450, static_cast<Index>(used_.places.size()));
    for (;;) {
      auto charges = std::make_shared<Charges>(shell);
      if (charges->count() <= most) return charges;
      shell.across *= 1.1;
      shell.along *= 1.1;
    }
  }

  // Rms over the cells of the flux out of each over its volume, times its longest edge [T].
  double divergence() const {
    const auto& z = grid_.axes.back();
    const Index n_z = static_cast<Index>(z.size());
    double sum = 0.0;
    std::size_t cells = 0;
    const auto add = [&](double divergence, double edge) { sum += std::pow(divergence * edge, 2), ++cells; };
    for (const auto& part : grid_.parts) {
      for (std::size_t i = 0; i + 1 < grid_.axes[0].size(); ++i) {
        const double a = grid_.axes[0][i], b = grid_.axes[0][i + 1];
        for (Index l = 0; l + 1 < n_z; ++l) {
          const double height = z[static_cast<std::size_t>(l + 1)] - z[static_cast<std::size_t>(l)];
          if (axial_) {
            const Index near = static_cast<Index>(i) * n_z + l, far = near + n_z;
            const double middle = 0.5 * (a + b);
            const double out =
                0.5 * (b * (part(0, far) + part(0, far + 1)) - a * (part(0, near) + part(0, near + 1)));
            const double up = 0.5 * (part(1, near + 1) + part(1, far + 1) - part(1, near) - part(1, far));
            add(out / (middle * (b - a)) + up / height, std::max(b - a, height));
            continue;
          }
          const auto& y = grid_.axes[1];
          const Index n_y = static_cast<Index>(y.size());
          for (Index j = 0; j + 1 < n_y; ++j) {
            const double wide = y[static_cast<std::size_t>(j + 1)] - y[static_cast<std::size_t>(j)];
            // Mean over the four corners of the cell's side that `fixed` picks.
            const auto face = [&](Index component, int fixed, int side) {
              double mean = 0.0;
              for (int corner = 0; corner < 4; ++corner) {
                int at[3] = {0, 0, 0};
                at[(fixed + 1) % 3] = corner % 2;
                at[(fixed + 2) % 3] = corner / 2;
                at[fixed] = side;
                mean += 0.25 * part(component,
                                    ((static_cast<Index>(i) + at[0]) * n_y + j + at[1]) * n_z + l + at[2]);
              }
              return mean;
            };
            add((face(0, 0, 1) - face(0, 0, 0)) / (b - a) + (face(1, 1, 1) - face(1, 1, 0)) / wide +
                    (face(2, 2, 1) - face(2, 2, 0)) / height,
                std::max({b - a, wide, height}));
          }
        }
      }
    }
    return std::sqrt(sum / static_cast<double>(std::max<std::size_t>(cells, 1)));
  }

  // One wrong sign or two exchanged components, if that explains most of a misfit.
  std::optional<std::string> remedy(const Ridge& fit, double misfit) const {
    constexpr double large = 0.1, share = 0.3;
    if (misfit < large) return std::nullopt;
    const auto names = grid_.components();
    const Index components = axial_ ? 2 : 3, nodes = static_cast<Index>(used_.places.size());
    std::optional<std::string> best;
    double least = share * misfit;
    const auto look = [&](const MatrixXd& wanted, const std::string& change) {
      const MatrixXd projected = fit.projected(wanted);
      const double left =
          std::sqrt(fit.left(wanted, projected, fit.best_ridge(wanted, projected))) / wanted.norm();
      if (left < least) least = left, best = change;
    };
    // Turning all is turning none: in the axial case one sign tells both.
    for (Index c = 0; c < (axial_ ? 1 : components); ++c) {
      MatrixXd wanted = used_.wanted;
      wanted.middleRows(c * nodes, nodes) *= -1.0;
      look(wanted, std::string("the sign of ") + names[static_cast<std::size_t>(c)] + " turned");
    }
    for (Index a = 0; a < components; ++a) {
      for (Index b = a + 1; b < components; ++b) {
        MatrixXd wanted = used_.wanted;
        wanted.middleRows(a * nodes, nodes) = used_.wanted.middleRows(b * nodes, nodes);
        wanted.middleRows(b * nodes, nodes) = used_.wanted.middleRows(a * nodes, nodes);
        look(wanted, std::string(names[static_cast<std::size_t>(a)]) + " and " +
                         names[static_cast<std::size_t>(b)] + " exchanged");
      }
    }
    return best;
  }

  const FieldGrid& grid_;
  Reach vessel_, reach_;
  bool axial_;
  Used used_;
};

}  // namespace

std::vector<const char*> FieldGrid::components() const {
  if (kind == Kind::axial) return {"B_r", "B_z"};
  return {"B_x", "B_y", "B_z"};
}

MeasuredField fit_field(const FieldGrid& grid, Reach vessel, Reach reach) {
  return Fitting(grid, vessel, reach).run();
}

}  // namespace driftglow::coil
