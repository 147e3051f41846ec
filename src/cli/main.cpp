#include <unistd.h>

#include <exception>
#include <iostream>

#include "cli/program.h"
#include "cli/support/heap.h"

int main(int argc, char** argv) {
  using namespace sheetloupe::cli;
  set_up_heap();
  const std::vector<std::string> arguments(argv + 1, argv + argc);
  try {
    return run_program(arguments, {std::cout, std::cerr, isatty(STDERR_FILENO) != 0});
  } catch (const std::exception& e) {
    std::cerr << "sheetloupe: a bug in the program, please report it with the command and the photo: " << e.what()
              << '\n';
    return kBug;
  }
}
