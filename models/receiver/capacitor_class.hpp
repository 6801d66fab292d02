#pragma once

#include <string_view>

namespace driftglow::receiver {

// Bounds of a relative quantity [1]: nominal x (1 + low) to nominal x (1 + high).
struct RelativeBounds {
  double low, high;
};

// Tolerance of a capacitor by its code letter, IEC 60062 [iec60062, memory]: symmetrical B 0.1, C 0.25, D
// 0.5, F 1, G 2, H 3, J 5, K 10, M 20, N 30 %, asymmetrical Q -10 +30, T -10 +50, S -20 +50, Z -20 +80 %;
// below 10 pF the letters B C D F G mean 0.1, 0.25, 0.5, 1 and 2 pF. Capacitance [F] > 0. Throws InputError
// for another letter.
RelativeBounds tolerance_of_letter(char letter, double capacitance);

// How a capacitor's capacitance may follow the temperature.
struct TemperatureCharacteristic {
  enum class Form { coefficient, band };
  Form form;
  double lowest, highest;  // K, category temperatures
  double reference;        // K, where the change is zero
  double low, high;        // coefficient: 1/K; band: relative change, anywhere within the temperatures
};

// From a ceramic capacitor's code, in three kinds.
//
// EIA-198 class 1, e.g. C0G: significant figure of the coefficient in ppm/K (C 0, B 0.3, M 1, P 1.5, R 2.2, S
// 3.3, T 4.7, U 7.5), multiplier (0 -1, 1 -10, 2 -100, 3 -1000, 5 +1, 6 +10, 7 +100, 8 +1000), tolerance (G
// 30, H 60, J 120, K 250, L 500 ppm/K); -55 to 125 degC, about 25 degC.
//
// EIA-198 class 2, e.g. X7R: X -55, Y -30, Z +10 degC; 4 65, 5 85, 6 105, 7 125, 8 150, 9 200 degC; A 1,
// B 1.5, C 2.2, D 3.3, E 4.7, F 7.5, P 10, R 15, S 22 % either way, T +22 -33, U +22 -56, V +22 -82 %; about
// 25 degC.
//
// IEC 60384-9 class 2, e.g. 2R1: B 10, R 15, X 15, C 20 % either way, D +20 -30, E +22 -56, F +30 -80 %
// without bias; 1 -55 to 125, 2 -55 to 85, 3 -40 to 85, 4 -25 to 85, 5 -10 to 70, 6 10 to 85 degC; about 20
// degC.
//
// Letter O is read as figure 0. Sources: EIA-198 [eia198, memory], IEC 60384-9 [iec60384_9, memory]. Throws
// InputError for another code.
TemperatureCharacteristic temperature_characteristic(std::string_view code);

// Bounds of the capacitance's change at a temperature [K]; InputError outside the category temperatures.
RelativeBounds temperature_change(const TemperatureCharacteristic& characteristic, double temperature);

enum class Dielectric {
  class_1_ceramic,  // C0G and its like, IEC 60384-8/-21
  class_2_ceramic,  // X7R, X5R and their like, IEC 60384-9/-22
  polypropylene,    // film, IEC 60384-16/-17
  polyester,        // film, IEC 60384-2
};

// What the dielectric does, from 1 to 100 kHz (the nearer end beyond).
struct DielectricLoss {
  double typical, limit;  // 1, loss tangent
};
// Loss tangent at a frequency [Hz] > 0, straight in its logarithm between 1, 10 and 100 kHz. Limits: 0.1 %
// class 1, 2.5 % class 2 (standards' limits for common parts at 1 kHz or 1 MHz, memory); the films' and all
// typical values: common practice, no source. Polyester rises: 1 % at 1 kHz, 3 % at 100 kHz.
DielectricLoss loss_tangent(Dielectric dielectric, double frequency);

// Film of common make about 20 degC [memory of the trade]: polypropylene -200 +- 100 ppm/K to 105 degC;
// polyester +400 +- 250 ppm/K to 125 degC. InputError for a ceramic, which has its code.
TemperatureCharacteristic film_characteristic(Dielectric dielectric);

// Class 2 ceramic under voltage: differential capacitance over that at zero,
//   C(v)/C(0) = (1 + (v/V_0)^2)^(-1/3)  (Johnson 1962 [johnson1962, memory], from the free energy of a
//   ferroelectric), V_0 such that `remaining_at_rated` is left at the rated voltage.
// The effective one for a sine of amplitude V_ac about V_dc is that of its fundamental charge, (1/pi) times
// the integral of C(V_dc + V_ac cos t) sin^2 t over a period. Coarse: what remains differs between makers and
// case sizes by a factor of two; ageing (a few per cent a decade of hours) and the rise of some per cent at
// amplitudes of a few volts in thick layers are neglected. Class 1 and film do not change measurably.
struct BiasLoss {
  double rated_voltage;       // V > 0, direct
  double remaining_at_rated;  // 1, above 0, at most 1
};
double biased_capacitance(const BiasLoss& loss, double dc_voltage, double ac_peak);

// What commonly remains at rated voltage where no curve is at hand: X7R 0.5, X5R 0.35, Y5V 0.15 (common
// practice, no source; by the code's band, -15 % with 125 degC, -15 % below, wider).
double common_remaining_at_rated(const TemperatureCharacteristic& characteristic);

}  // namespace driftglow::receiver
