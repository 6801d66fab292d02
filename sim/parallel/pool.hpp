#pragma once

#include <cstddef>
#include <functional>
#include <stop_token>

namespace driftglow::parallel {

enum class Outcome { finished, stopped };

// Processors this process may use; at least 1.
int available_threads();

// Calls task(i) once for every i in [0, count), on `threads` >= 1 threads, the caller being one of them. The
// task puts its result where index i belongs; blocks are handed out in order, so nothing depends on the
// thread count.
//
// After a task has thrown no further block is begun, those under way are finished, and the exception of the
// lowest index is rethrown here: the same one at any thread count. A stop asked for is looked at before each
// block; `stopped` means that blocks are missing. Throws LogicError when threads < 1.
Outcome run_blocks(std::size_t count, int threads, const std::function<void(std::size_t)>& task,
                   const std::stop_token& stop = {});

}  // namespace driftglow::parallel
