#include "models/air/screen_loss.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "models/error.hpp"

namespace driftglow::air {

double open_share(const WireMesh& mesh) {
  const double share = mesh.opening / (mesh.opening + mesh.wire);
  return share * share;
}

double screen_loss(const WireMesh& mesh, double speed, double kinematic_viscosity) {
  if (!(mesh.wire > 0.0) || !(mesh.opening > 0.0) || !(speed > 0.0) || !(kinematic_viscosity > 0.0)) {
    std::ostringstream text;
    text << "a mesh of " << mesh.wire << " m wire with openings of " << mesh.opening << " m at " << speed
         << " m/s; expected all above 0";
    throw InputError(text.str());
  }
  const double beta = open_share(mesh), reynolds = speed * mesh.wire / kinematic_viscosity;
  const double slow = 6.5 * (1.0 - beta) * std::pow(beta, -5.0 / 3.0) / std::cbrt(reynolds);
  const double blocked = 1.0 / beta - 1.0;
  return std::max(slow, 1.3 * (1.0 - beta) + blocked * blocked);
}

}  // namespace driftglow::air
