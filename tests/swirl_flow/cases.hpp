#pragma once

#include <vector>

#include "models/swirl_flow/flow_case.hpp"

// Small flows with known answers.
namespace driftglow::test {

inline std::vector<double> even_faces(double first, double last, int cells) {
  std::vector<double> faces;
  for (int i = 0; i <= cells; ++i) faces.push_back(first + (last - first) * i / cells);
  return faces;
}

// All edges at rest walls, the inner one symmetric where the domain reaches the axis; the first r and z faces
// at r_first and 0.
inline swirl_flow::FlowCase walled(std::vector<double> r_faces, std::vector<double> z_faces,
                                   double viscosity) {
  using swirl_flow::BoundaryKind;
  swirl_flow::FlowCase flow{std::move(r_faces),
                            std::move(z_faces),
                            1.0,
                            viscosity,
                            swirl_flow::Turbulence::laminar,
                            {},
                            {},
                            {},
                            {},
                            {},
                            {}};
  const bool axis = flow.r_faces.front() == 0.0;
  flow.inner.assign(flow.z_cells(), {.kind = axis ? BoundaryKind::symmetry : BoundaryKind::wall});
  flow.outer.assign(flow.z_cells(), {.kind = BoundaryKind::wall});
  flow.bottom.assign(flow.r_cells(), {.kind = BoundaryKind::wall});
  flow.top.assign(flow.r_cells(), {.kind = BoundaryKind::wall});
  return flow;
}

// A pipe of diameter 1 with mean speed 1 from below, open at the top.
inline swirl_flow::FlowCase pipe(std::vector<double> r_faces, std::vector<double> z_faces, double reynolds) {
  auto flow = walled(std::move(r_faces), std::move(z_faces), 1.0 / reynolds);
  flow.bottom.assign(flow.r_cells(), {.kind = swirl_flow::BoundaryKind::inlet, .speed = 1.0});
  flow.top.assign(flow.r_cells(), {.kind = swirl_flow::BoundaryKind::vent});
  return flow;
}

}  // namespace driftglow::test
