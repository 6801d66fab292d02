#include "sim/flight/stages.hpp"

namespace driftglow::flight {

const Kernel<double> kernel_scalar = kernel_of<double>();

}  // namespace driftglow::flight
