#include "sim/sheet/field_view.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "models/coil/conductor_path.hpp"
#include "models/constants.hpp"

namespace driftglow::sheet {
namespace {

Eigen::Vector3d vector_of(const std::array<double, 3>& a) {
  return {a[0], a[1], a[2]};
}

FieldView view_of(const scenario::Scenario&, const scenario::UniformField& uniform) {
  Eigen::Matrix3Xd parts(3, uniform.quadrature_axis ? 2 : 1);
  parts.col(0) = uniform.flux_density_peak * vector_of(uniform.axis);
  if (uniform.quadrature_axis) parts.col(1) = uniform.flux_density_peak * vector_of(*uniform.quadrature_axis);
  return {[parts](const Eigen::Vector3d&) { return parts; }, std::nullopt};
}

FieldView view_of(const scenario::Scenario& scenario, const maps::MeasuredDrive& measured) {
  return {measured.fit.field, std::nullopt,
          coil::Reach{scenario.vessel.widest_radius(), 0.0, scenario.vessel.height}};
}

double mean_height(const coil::WoundCoil& coil) {
  return 0.5 * (coil.turns.front().height + coil.turns.back().height);
}

// Points of a conductor's centre line, enough to say where it ends.
std::vector<Eigen::Vector3d> outline_of(const coil::ConductorPath& path) {
  if (const auto* rods = std::get_if<coil::RodPath>(&path)) return rods->corners;
  const auto& turns = std::get<coil::TurnPath>(path);
  const auto side = coil::across(turns.placement.axis());
  constexpr int points = 64;
  std::vector<Eigen::Vector3d> outline;
  for (const auto& turn : turns.turns) {
    for (int i = 0; i < points; ++i) {
      const double angle = 2.0 * constant::pi * i / points;
      outline.push_back(turns.placement.centre() + turn.height * turns.placement.axis() +
                        turn.radius * (std::cos(angle) * side.first + std::sin(angle) * side.second));
    }
  }
  return outline;
}

// Magnetic moment per ampere [m2].
Eigen::Vector3d moment_of(const coil::ConductorPath& path) {
  Eigen::Vector3d moment = Eigen::Vector3d::Zero();
  if (const auto* rods = std::get_if<coil::RodPath>(&path)) {
    for (std::size_t i = 0; i < rods->rods(); ++i) moment += 0.5 * rods->begin(i).cross(rods->end(i));
    return moment;
  }
  const auto& turns = std::get<coil::TurnPath>(path);
  for (const auto& turn : turns.turns)
    moment += turn.weight * constant::pi * turn.radius * turn.radius * turns.placement.axis();
  return moment;
}

double half_thickness(const coil::Section& section) {
  if (const auto* round = std::get_if<coil::RoundSection>(&section)) return 0.5 * round->diameter;
  const auto& bar = std::get<coil::RectangularSection>(section);
  return 0.5 * std::max(bar.width, bar.height);
}

void include(const std::vector<Eigen::Vector3d>& outline, double thickness, safety::Enclosure& enclosure) {
  for (const auto& p : outline) {
    enclosure.radius = std::max(enclosure.radius, std::hypot(p.x(), p.y()) + thickness);
    enclosure.low = std::min(enclosure.low, p.z() - thickness);
    enclosure.high = std::max(enclosure.high, p.z() + thickness);
  }
}

FieldView view_of(const scenario::Scenario& scenario, const maps::SystemDrive& state) {
  const auto& given = std::get<scenario::CoilDrive>(scenario.drive);
  const auto& system = state.system;
  const Eigen::MatrixXd currents = coil::current_parts(state.currents);
  Sources sources{{},
                  {scenario.vessel.widest_radius(), 0.0, scenario.vessel.height},
                  safety::Symmetry::none,
                  Eigen::Matrix3Xd::Zero(3, currents.cols())};
  double metal = 0.0;
  for (const auto& conductor : given.conductors) metal = std::max(metal, half_thickness(conductor.section));
  for (int i = 0; i < system.conductors(); ++i) {
    const bool wound = i < system.coils();
    include(outline_of(system.path(i)), wound ? 0.5 * system.coil(i).coil.wire.enamelled_diameter : metal,
            sources.enclosure);
    sources.moment += moment_of(system.path(i)) * currents.row(i);
    if (wound) {
      const auto& placement = system.coil(i).placement;
      sources.coils.push_back({given.coils[i].name, placement.centre(), placement.axis()});
    }
  }
  const auto parts = [&system, currents](const Eigen::Vector3d& p) -> Eigen::Matrix3Xd {
    return system.fields(p) * currents;
  };
  return {parts, std::move(sources)};
}

FieldView view_of(const scenario::Scenario& scenario, const maps::CoaxialDrive& state) {
  const auto& given = std::get<scenario::CoilDrive>(scenario.drive).coils;
  const auto& coils = state.circuit.coils();
  const double current = state.point.current_peak;
  Sources sources{{},
                  {scenario.vessel.widest_radius(), 0.0, scenario.vessel.height},
                  safety::Symmetry::axial,
                  Eigen::Matrix3Xd::Zero(3, 1)};
  auto& enclosure = sources.enclosure;
  for (std::size_t i = 0; i < coils.size(); ++i) {
    sources.coils.push_back({given[i].name, {0.0, 0.0, mean_height(coils[i])}, Eigen::Vector3d::UnitZ()});
    enclosure.radius = std::max(enclosure.radius, coils[i].outer_radius);
    for (const auto& turn : coils[i].turns) {
      const double half_wire = 0.5 * coils[i].wire.enamelled_diameter;
      enclosure.low = std::min(enclosure.low, turn.height - half_wire);
      enclosure.high = std::max(enclosure.high, turn.height + half_wire);
      sources.moment(2, 0) += current * turn.weight * constant::pi * turn.radius * turn.radius;
    }
  }
  auto turns = state.circuit.turns();
  const auto parts = [turns = std::move(turns), current](const Eigen::Vector3d& p) -> Eigen::Matrix3Xd {
    const auto field = coil::field_of(turns, std::hypot(p.x(), p.y()), p.z());
    return current *
           Eigen::Vector3d(p.x() * field.radial_over_rho, p.y() * field.radial_over_rho, field.axial);
  };
  return {parts, std::move(sources)};
}

}  // namespace

double FieldView::rms(const Eigen::Vector3d& p_W) const {
  return parts(p_W).norm() / std::sqrt(2.0);
}

FieldView field_view(const scenario::Scenario& scenario, const flight::Plan& plan) {
  return std::visit([&](const auto& field) { return view_of(scenario, field); }, plan.drive.field);
}

FieldView field_view(const scenario::Scenario& scenario, const maps::DrivenCoils& coils) {
  return std::visit([&](const auto& own) { return view_of(scenario, own); }, coils);
}

Strongest strongest(const Eigen::Matrix3Xd& parts) {
  const Eigen::Matrix3d square = parts * parts.transpose();
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> solver(square);
  return {std::sqrt(std::max(0.0, solver.eigenvalues()[2])), solver.eigenvectors().col(2)};
}

double mean_over_disc(const FieldView& field, const Eigen::Vector3d& centre, const Eigen::Vector3d& axis,
                      double radius) {
  const auto side = coil::across(axis);
  const double ring = std::sqrt(2.0 / 3.0) * radius;
  Eigen::RowVectorXd along = 0.25 * axis.transpose() * field.parts(centre);
  for (int corner = 0; corner < 6; ++corner) {
    const double angle = corner * constant::pi / 3.0;
    const Eigen::Vector3d place =
        centre + ring * (std::cos(angle) * side.first + std::sin(angle) * side.second);
    along += 0.125 * axis.transpose() * field.parts(place);
  }
  return along.norm();
}

}  // namespace driftglow::sheet
