#include "board.h"
int main(void)
{
    return 0;
}
