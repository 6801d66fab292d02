#pragma once

#include <complex>
#include <vector>

namespace driftglow::coil {

// Copper resistivity [ohm m], rho_20 (1 + alpha (T - 20 degC)) [iec60028]; temperature T [K], 150 to 600 K.
double copper_resistivity(double temperature);

// Skin depth [m], sqrt(2 rho / (omega mu0)); resistivity [ohm m] and frequency [Hz] > 0.
double skin_depth(double resistivity, double frequency);

// Internal impedance of a straight round wire over its DC resistance [1]: (x/2) I0(x)/I1(x), x = (1 + j)
// w/delta. Real part: resistance ratio of the skin effect; imaginary part: internal reactance over R_dc,
// (w/delta)^2/4 at low frequency. relative_radius = w/delta >= 0. Non-magnetic wire, current and field in
// step along it, displacement current neglected. Exact to 1e-14. Source: Smythe [smythe1968], ch. 10.
std::complex<double> internal_impedance_ratio(double relative_radius);

// Y [1] of the loop inductance mu0 a (ln(8a/w) - 2 + Y): 1/4 at low frequency, delta/(2w) at high.
double internal_inductance_term(double relative_radius);

// Loss of a straight round wire in a uniform transverse alternating field, G [1] in
//   P' = pi omega mu0 w^2 H^2 G  [W/m],  G = Im[I2(x)/I0(x)],  H peak [A/m];
// the low-frequency limit is pi omega^2 mu0^2 sigma w^4 H^2/8. Exact for the uniform field. Source: Ferreira
// [ferreira1994].
double transverse_loss_factor(double relative_radius);

// Response T_n [1], n = 1..order, of a straight round wire to a transverse field whose vector potential is
// a_n r^n exp(j n angle): outside it adds -T_n w^2n a_n r^-n exp(j n angle), T_n = I_(n+1)(x)/I_(n-1)(x), x
// as above. From continuity of the potential and of the tangential field. Im T_1 is the loss factor.
std::vector<std::complex<double>> multipole_response(double relative_radius, int order);

}  // namespace driftglow::coil
