/* cli/main.c: the program. */
#include <stdio.h>

#include "cli/cli.h"

int main(int argc, char **argv)
{
    return tw_cli_run(argc, argv, stdin, stdout, stderr);
}
