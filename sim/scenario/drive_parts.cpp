#include "sim/scenario/drive_parts.hpp"

#include "models/error.hpp"

namespace driftglow::scenario {
namespace {

coil::WoundCoil wound_at(const Coil& coil, double height) {
  return coil::wind(coil.winding, height,
                    coil.sense > 0 ? coil::Sense::right_handed : coil::Sense::left_handed);
}

const coil::Metal& metal_of(MetalKind kind) {
  switch (kind) {
    case MetalKind::copper:
      return coil::metal::copper;
    case MetalKind::aluminium:
      return coil::metal::aluminium;
    case MetalKind::brass:
      return coil::metal::brass;
    case MetalKind::stainless_steel:
      return coil::metal::stainless_steel;
  }
  throw LogicError("unknown metal");
}

}  // namespace

bool CoilDrive::coaxial() const {
  if (circuits.size() != 1 || circuits.front().connection != Connection::series || !conductors.empty())
    return false;
  for (const Coil& coil : coils)
    if (coil.centre[0] != 0 || coil.centre[1] != 0 || coil.axis[0] != 0 || coil.axis[1] != 0) return false;
  return true;
}

coil::WoundCoil wound(const Coil& coil) {
  return wound_at(coil, coil.centre[2]);
}

coil::PlacedCoil placed(const Coil& coil) {
  const auto &c = coil.centre, &n = coil.axis;
  return {wound_at(coil, 0.0), coil::Placement({c[0], c[1], c[2]}, {n[0], n[1], n[2]})};
}

std::vector<coil::ShortedTurn> loops_of(const Conductor& conductor) {
  std::vector<coil::ConductorPath> paths;
  if (const auto* ring = std::get_if<Ring>(&conductor.shape)) {
    paths.push_back(coil::TurnPath{coil::Placement({0.0, 0.0, ring->height}, {0.0, 0.0, 1.0}),
                                   {{0.5 * ring->diameter, 0.0, 1.0}}});
  } else {
    const auto& cage = std::get<Cage>(conductor.shape);
    for (auto& mesh : coil::cage_meshes(0.5 * cage.diameter, cage.low, cage.high, cage.rods))
      paths.push_back(std::move(mesh));
  }
  std::vector<coil::ShortedTurn> loops;
  for (auto& path : paths)
    loops.emplace_back(std::move(path), conductor.section, metal_of(conductor.metal),
                       conductor.joint_resistance);
  return loops;
}

}  // namespace driftglow::scenario
