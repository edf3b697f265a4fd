class Proof:
    tried = 0
    bound = float("-inf")
    proven = False

    def __init__(self, *a):
        pass

    def lowest(self):
        pass

    def first(self):
        pass

    def customary(self):
        pass

    def ranks(self, k):
        return False
