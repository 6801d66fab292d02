#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "models/coil/coil_map.hpp"
#include "models/coil/volume_map.hpp"

namespace driftglow::coil {

// Peak flux density [T] as read component by component at the nodes of a grid.
struct FieldGrid {
  // Axial: axes r, z and components B_r, B_z, the same all around. Cartesian: x, y, z.
  enum class Kind { axial, cartesian } kind;
  std::vector<std::vector<double>> axes;  // m, rising, in W
  std::vector<Eigen::MatrixXd> parts;     // components x nodes, the last axis fastest; in phase with the
                                          // current, and where there is a second one a quarter period later

  std::vector<const char*> components() const;  // "B_r" ...
};

struct MeasuredField {
  FieldParts field;          // T, in the vessel
  int parts;                 // 1 or 2
  std::size_t readings;      // nodes used: those in the vessel or within one spacing of it
  double rms;                // T, of |B| over them, both parts together
  double misfit;             // 1, rms of fit less reading over rms
  double largest_misfit;     // 1, of |fit - reading| at one node over rms
  Eigen::Vector3d worst;     // m, that node
  double divergence_before;  // 1, rms over the grid's cells of div B times their longest edge, over rms
  std::optional<std::string> remedy;  // what would make most of a large misfit go: "the sign of B_r turned"
};

// The magnetic field without sources in the vessel (div B = 0, curl B = 0: air, far below the wavelength)
// that is nearest to the readings by least squares. Outside, on a cylinder and its ends one and a half
// spacings beyond vessel and readings, stand equivalent sources, loops about the axis (axial) or magnetic
// charges (Cartesian): the method of fundamental solutions [fairweather1998]. Their strengths are held down
// by ridge regression with the parameter of best generalised cross-validation [craven1979], so that the
// readings' noise is averaged and not followed. `vessel`: what is covered; `reach`: where tags' centres are,
// which the nodes must reach to within one spacing. Throws InputError where they do not, where an axis has
// fewer than 3 nodes or where the readings are all 0, LogicError where shapes differ.
MeasuredField fit_field(const FieldGrid& grid, Reach vessel, Reach reach);

}  // namespace driftglow::coil
