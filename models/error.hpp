#pragma once

#include <stdexcept>

namespace driftglow {

// The user's input is wrong: the message is one sentence that says what, where, and what would be right. Exit
// status 2.
class InputError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

// A defect or failure of ours, or of the machine (disk, memory). Exit status 1.
class LogicError : public std::logic_error {
 public:
  using std::logic_error::logic_error;
};

}  // namespace driftglow
