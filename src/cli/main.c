#include "cli.h"

int main(int argc, char **argv) {
    return gw_cli_main(argc, argv);
}
