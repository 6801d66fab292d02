#pragma once

#include "models/coil/measured_field.hpp"
#include "sim/scenario/scenario.hpp"

namespace driftglow::maps {

// The field that a user measured, from CSV or HDF5, fitted (fit_field()) and times the scenario's factor.
// Columns r, z, B_r, B_z or x, y, z, B_x, B_y, B_z in peak values with the sign that they have while the
// coils' current is positive, of a turning field also B_x_later ... a quarter period later; or U_... for the
// rms voltage of a search coil that looks along that axis. HDF5: /axes/r ... and /field/B_r ... in SI. Throws
// InputError as read_node_file(), and where no magnetic field fits.
coil::MeasuredField read_field(const scenario::MeasuredField& given, coil::Reach vessel, coil::Reach reach);

}  // namespace driftglow::maps
