#include "models/numeric/pack_avx512.hpp"
#include "sim/flight/stages.hpp"

namespace driftglow::flight {

const Kernel<float> kernel_avx512 = kernel_of<numeric::Pack>();

}  // namespace driftglow::flight
