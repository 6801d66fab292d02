#pragma once

namespace driftglow::air {

// Of a vessel's wall: a cylinder, or a cone whose radius changes evenly with height. Chosen once outside the
// step, as a template argument.
enum class WallShape { straight, tapered };

}  // namespace driftglow::air
