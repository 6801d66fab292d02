#pragma once

#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "sim/store/unfinished.hpp"
#include "sim/study/files.hpp"

namespace driftglow::study {

// The finished pieces of a study that is not whole yet, in the folder `study.unfinished` beside the results.
class KeptPieces {
 public:
  KeptPieces(const std::filesystem::path& out, const Identity& identity, store::Run run);

  static std::filesystem::path folder_in(const std::filesystem::path& out);

  bool any() const { return !kept_.files().empty(); }
  // What keeps those there from being of this study; nothing where they are, or none is kept.
  std::optional<std::string> what_differs() const;
  std::vector<Piece> load() const;

  void begin() const { kept_.begin(); }
  // Keeps a piece of the flying threads, writing now and then.
  void add(const Piece& piece);
  // Writes what add() still holds.
  void flush();
  void remove() const { kept_.remove(); }

 private:
  void write(const std::vector<Piece>& pieces);

  store::Unfinished kept_;
  Identity identity_;
  store::Run run_;
  store::SaveTimer timer_;
  std::mutex adding_, writing_;
  std::vector<Piece> pending_;
};

}  // namespace driftglow::study
