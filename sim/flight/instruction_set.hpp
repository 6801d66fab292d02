#pragma once

#include <optional>
#include <string_view>
#include <vector>

namespace driftglow::flight {

// How the step's arithmetic is done: one vessel in double precision as the reference, or 4, 8 or 16 vessels
// side by side in single precision. avx2 and avx512 give the same bits; baseline, without fused
// multiplication and addition, rounds otherwise.
enum class InstructionSet { scalar, baseline, avx2, avx512 };

std::string_view name(InstructionSet set);

// Sets of one arithmetic give the same bits, so that their replicates may stand in one result.
std::string_view arithmetic(InstructionSet set);

// Those that this machine can run, the fastest last.
std::vector<InstructionSet> available_instruction_sets();

}  // namespace driftglow::flight
