#include "models/numeric/pack_baseline.hpp"
#include "sim/flight/stages.hpp"

namespace driftglow::flight {

const Kernel<float> kernel_baseline = kernel_of<numeric::Pack>();

}  // namespace driftglow::flight
