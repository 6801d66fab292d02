#pragma once

#include <functional>

#include "models/swirl_flow/flow_solver.hpp"

namespace driftglow::swirl_flow {

struct SettleControl {
  double tolerance;     // 1, of the residual that FlowSolver::iterate gives
  int most_iterations;  // > 0
  double relaxation;    // 1, to start with, (0, 1)
};

struct Settled {
  int iterations;
  double residual;    // 1
  double relaxation;  // 1, at the end
};

// Iterates until the residual is within the tolerance, with less relaxation whenever it stagnates. `between`
// is called after every 20 iterations and says whether what it steers (a fan's operating point, a balance) is
// met too. Throws InputError when the flow does not settle: it never returns a field that is not converged.
Settled settle(FlowSolver& solver, const SettleControl& control, const std::function<bool()>& between = {});

}  // namespace driftglow::swirl_flow
