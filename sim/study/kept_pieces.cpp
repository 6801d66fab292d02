#include "sim/study/kept_pieces.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

namespace driftglow::study {
namespace {

constexpr const char* remedy = "remove it and its designs will be flown again";

}  // namespace

KeptPieces::KeptPieces(const std::filesystem::path& out, const Identity& identity, store::Run run)
    : kept_(folder_in(out)), identity_(identity), run_(std::move(run)) {}

std::filesystem::path KeptPieces::folder_in(const std::filesystem::path& out) {
  return out / "study.unfinished";
}

std::optional<std::string> KeptPieces::what_differs() const {
  for (const auto& path : kept_.files()) {
    const store::Reader file(path, remedy);
    if (auto found = study::what_differs(file, identity_)) return found;
    if (results::read_head(file).part != identity_.part) return "--part is another one there";
  }
  return std::nullopt;
}

std::vector<Piece> KeptPieces::load() const {
  std::vector<Piece> all;
  for (const auto& path : kept_.files()) {
    auto pieces = read_pieces(store::Reader(path, remedy), identity_.study);
    std::move(pieces.begin(), pieces.end(), std::back_inserter(all));
  }
  // A damaged file that was taken away leaves a gap: what comes after it does not count.
  std::sort(all.begin(), all.end(), [](const Piece& a, const Piece& b) {
    return std::pair(a.design, a.first) < std::pair(b.design, b.first);
  });
  std::vector<Piece> whole;
  int design = -1, next = 0;
  for (auto& piece : all) {
    if (piece.design != design) next = 0;
    design = piece.design;
    if (piece.first != next) continue;
    next += piece.result.replicates;
    whole.push_back(std::move(piece));
  }
  return whole;
}

void KeptPieces::add(const Piece& piece) {
  std::vector<Piece> due;
  {
    const std::lock_guard lock(adding_);
    pending_.push_back(piece);
    if (!timer_.due()) return;
    std::swap(due, pending_);
  }
  write(due);
}

void KeptPieces::flush() {
  std::vector<Piece> due;
  {
    const std::lock_guard lock(adding_);
    std::swap(due, pending_);
  }
  write(due);
}

void KeptPieces::write(const std::vector<Piece>& pieces) {
  if (pieces.empty()) return;
  const std::lock_guard lock(writing_);
  const auto lowest = std::min_element(pieces.begin(), pieces.end(),
                                       [](const Piece& a, const Piece& b) { return a.design < b.design; });
  write_pieces(kept_.file_from(lowest->design), identity_, pieces, run_);
}

}  // namespace driftglow::study
