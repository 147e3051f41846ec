// Independent pieces of work on all cores, results in their own places.
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace sheetloupe {

/// Calls `work(0)` to `work(count - 1)`, each once, on up to `threads` threads (0: as many as the machine has). Pieces
/// must not touch each other's data. The first exception by index is thrown again after all have ended, so the outcome
/// does not depend on the number of threads.
template <class Work>
void side_by_side(std::size_t count, const Work& work, unsigned threads = 0) {
  if (threads == 0) threads = std::max(1U, std::thread::hardware_concurrency());
  const std::size_t workers = std::min<std::size_t>(threads, count);
  std::vector<std::exception_ptr> failures(count);
  std::atomic<std::size_t> next{0};
  const auto take = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      try {
        work(i);
      } catch (...) {
        failures[i] = std::current_exception();
      }
    }
  };
  std::vector<std::jthread> helpers;
  for (std::size_t i = 1; i < workers; ++i) helpers.emplace_back(take);
  take();
  helpers.clear();  // joins
  for (const std::exception_ptr& failure : failures) {
    if (failure) std::rethrow_exception(failure);
  }
}

}  // namespace sheetloupe
