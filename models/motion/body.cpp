#include "models/motion/body.hpp"

#include <cmath>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::motion {

DragArea disc_drag_area(double radius, double thickness) {
  constexpr double face_on = 1.17, edge_on = 1.0;
  return {face_on * constant::pi * radius * radius, edge_on * 2.0 * radius * thickness};
}

Body checked(const Body& body) {
  const auto positive = [](double value, const char* sentence) {
    if (!(std::isfinite(value) && value > 0.0)) throw InputError(sentence);
  };
  positive(body.radius, "a tag's radius must be above zero");
  positive(body.mass, "a tag's mass must be above zero");
  positive(body.inertia, "a tag's inertia factor must be above zero");
  const auto not_negative = [](double value, const char* sentence) {
    if (!(std::isfinite(value) && value >= 0.0)) throw InputError(sentence);
  };
  not_negative(body.restitution, "a tag's restitution must be from 0 to 1");
  not_negative(1.0 - body.restitution, "a tag's restitution must be from 0 to 1");
  not_negative(body.friction, "a tag's friction must not be below zero");
  not_negative(body.rolling_resistance, "a tag's rolling resistance must not be below zero");
  not_negative(body.displaced_volume, "a tag's displaced volume must not be below zero");
  if (body.drag_law == DragLaw::fixed) {
    positive(body.area_along, "a tag's drag area along its axis must be above zero");
    positive(body.area_across, "a tag's drag area across its axis must be above zero");
  }
  return body;
}

}  // namespace driftglow::motion
