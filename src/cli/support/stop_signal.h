// Ctrl-C (and a polite kill) ends a command's loop instead of the program, so that what is being written gets whole.
#pragma once

namespace sheetloupe::cli {

/// While one lives, SIGINT and SIGTERM set a flag; a second one ends the program at once.
class StopSignal {
 public:
  StopSignal();
  StopSignal(const StopSignal&) = delete;
  StopSignal& operator=(const StopSignal&) = delete;
  ~StopSignal();

  bool asked() const;

 private:
  void (*interrupt_before_)(int);
  void (*terminate_before_)(int);
};

}  // namespace sheetloupe::cli
