#pragma once

#include <span>

namespace driftglow::safety {

// Flashes per second that most often trigger photosensitive epilepsy, ends included: 3 to 30 Hz [fisher2005];
// web accessibility rules draw the line at three flashes in a second [wcag22].
inline constexpr double sensitive_flash_rate_low = 3.0;
inline constexpr double sensitive_flash_rate_high = 30.0;

// Share [1] of the flashes whose rate, one over the time since the flash before, lies in the sensitive band;
// 0 when there are none. Does not see that several tags flash together: a crowd's flashes may add up to a
// rate that no tag has. periods [s] > 0 between the starts of flashes (histogram bins' centres or single
// values) with their counts >= 0, same length, else LogicError.
double sensitive_flash_share(std::span<const double> periods, std::span<const double> counts);

}  // namespace driftglow::safety
