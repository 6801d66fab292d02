#include "models/numeric/pack_avx2.hpp"
#include "sim/flight/stages.hpp"

namespace driftglow::flight {

const Kernel<float> kernel_avx2 = kernel_of<numeric::Pack>();

}  // namespace driftglow::flight
