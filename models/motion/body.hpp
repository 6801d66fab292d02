#pragma once

namespace driftglow::motion {

enum class WallLift { off, on };

// How the drag area is found: `fixed` areas along and across the axis (cage, disc), or a `sphere`'s drag
// coefficient by Reynolds number. Chosen once outside the step, as a template argument.
enum class DragLaw { fixed, sphere };

// A tag's body as the equations of motion see it. checked() vouches for it; a tracer uses its radius only.
struct Body {
  double radius;              // m, a_b of the sphere that touches walls and other tags
  double mass;                // kg
  double inertia;             // 1, kappa: J = kappa m a_b^2
  double centre_offset;       // m, l: centre of drag from the centre of mass, along the axis
  double displaced_volume;    // m3
  double restitution;         // 1, 0..1
  double friction;            // 1, Coulomb
  double rolling_resistance;  // 1, arm of the rolling couple over the radius
  WallLift wall_lift;
  DragLaw drag_law;
  double area_along;   // m2, K_n: drag coefficient x area for flow along the axis (fixed law)
  double area_across;  // m2, K_t: the same across the axis (fixed law)
};

// Drag coefficient x area of a thin disc [m2], face-on and edge-on. Face-on 1.17 [hoerner1965, memory];
// edge-on: the rim as a bluff strip of diameter x thickness with coefficient 1 (coarse: skin friction and
// pitching moment are neglected).
struct DragArea {
  double along, across;
};
DragArea disc_drag_area(double radius, double thickness);

// Checks ranges and returns the body; throws InputError with one sentence otherwise.
Body checked(const Body& body);

}  // namespace driftglow::motion
