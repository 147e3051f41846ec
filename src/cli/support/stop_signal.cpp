#include "cli/support/stop_signal.h"

#include <atomic>
#include <csignal>

namespace sheetloupe::cli {
namespace {

std::atomic<bool> stop_asked{false};
static_assert(std::atomic<bool>::is_always_lock_free);

void on_signal(int signal) {
  stop_asked = true;
  std::signal(signal, SIG_DFL);
}

}  // namespace

StopSignal::StopSignal() {
  stop_asked = false;
  interrupt_before_ = std::signal(SIGINT, on_signal);
  terminate_before_ = std::signal(SIGTERM, on_signal);
}

StopSignal::~StopSignal() {
  std::signal(SIGINT, interrupt_before_);
  std::signal(SIGTERM, terminate_before_);
}

bool StopSignal::asked() const { return stop_asked; }

}  // namespace sheetloupe::cli
