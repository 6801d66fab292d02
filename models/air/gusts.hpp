#pragma once

namespace driftglow::air {

// What a tag's surface or volume averages over.
enum class TagShape { ball, disc };

// Share [1] of the energy of gusts that is left in their mean over a tag, in (0, 1], and so the square of the
// factor on sigma. radius [m] >= 0 of the ball or disc; length [m] > 0, the longitudinal integral scale L of
// the turbulence (the model's own is sigma T_L).
//   share = integral p(r) (1 - r/(3 L)) e^(-r/L) dr,
// the correlation of isotropic incompressible turbulence with longitudinal correlation e^(-r/L) (trace f + r
// f'/3, Batchelor 1953 [batchelor1953, memory]; its spectrum falls as the -2nd power where -5/3 is measured),
// p(r) the density of distances between two points of the ball (Hammersley 1950 [hammersley1950, memory]) or
// of the disc (Crofton's, [solomon1978, memory]), averaged over the disc's directions. What is averaged away
// are short eddies: with sigma^2 T kept, T_L grows by 1/share, so that spreading over long times stays.
double gust_share(TagShape shape, double radius, double length);

}  // namespace driftglow::air
